"""Cases for corners of the judge that others pass by: the way by the winch alone, a rope by a clock of its own, ages of words,
gaps that are no gap of the straps, debounced phases. Each decided from the written rule semantics.
"""

from corpus_cases import DRIVING, ROLLING, BASE, case, proc, trace
from decided_cases import less_missing
from kernel_cases import CHECK, CODES, HERE, LOST, lost_line, unproven
from mutant_cases import SET, STRAPS, scene
from timed_cases import exact
from trace_kit import Trace, expect

TRUCK = 'truck { id: "truck-7" winch { line_speed: "6 m/min" line_rating: "17.8 kN" } }\n'
TOTAL = 'total_in_phase { phase: "rolling" quantity: "vehicle.rolled" %s: "%s" longest_gap: "3 s" }'


def by_the_winch():
    """With neither rope counter nor tag: at most the winch's line speed (0.1 m/s) for as long as the line pulls."""
    def way(name, pull, parked, want, register=TRUCK, hole=(0, 0), limit="10 m", bound="at_most"):
        t = trace("winch-" + name)
        t.op(0, "vehicleMode", mode="ROLLING")
        for i in range(-20, 500):
            if not hole[0] <= i / 2 < hole[1]:
                t.sample(i / 2, "line", "line.pull", 2500 if pull[0] <= i / 2 < pull[1] else 60)
        t.op(parked, "vehicleMode", mode="PARKED")
        t.op(249, "closed", outcome="SIGNED")
        case("winch-" + name, t.texts(), proc("rule", ("rule", TOTAL % (bound, limit)), phases=ROLLING), [want],
             CODES.get(want["verdict"], 1), "Pulled from %g to %g s." % pull, register, naive=False)

    met = lambda lo: expect("rule", "met", best=None, lo=lo, hi=10, tol=0.0001, unit="m")
    way("within", (10, 40), 60, met(7))
    way("going", (10, 100), 60, met(5))
    way("before", (-8, 40), 60, met(6))
    way("edge", (10, 110), 120, met(0))
    way("edge-under", (10, 110), 120, unproven("too_close", best=None, lo=0, hi=10, tol=0.0001, unit="m"), bound="under")
    way("too-long", (10, 210), 220, unproven("too_close", best=None, lo=-10, hi=10, tol=0.0001, unit="m"))
    way("hole", (10, 40), 60, unproven("no_data", best=None, lo=None, unit="m"), hole=(20, 30))
    way("no-truck", (10, 40), 60, unproven("no_data", best=None, lo=None, unit="m"), register="")
    way("no-speed", (10, 40), 60, unproven("no_data", best=None, lo=None, unit="m"), register='truck { id: "truck-7" }\n')


def rope_by_its_own_clock():
    """The way inside a phase by a clock 2 s off against the phase's: 0.2 m/s for up to 2 s more, or less, at each end."""
    def way(name, limit, want, wide=2000):
        t = trace("rope-" + name)
        t.op(0, "vehicleMode", mode="ROLLING")
        for i in range(-30, 71):
            t.put(i, "line", "sample", {"signal": "line.out", "value": round(40 - 0.2 * (i + 30), 3)}, clock="line", timeUncertaintyMs=wide)
        t.op(40, "vehicleMode", mode="PARKED")
        t.op(60, "closed", outcome="SIGNED")
        case("rope-" + name, t.texts(), proc("rule", ("rule", TOTAL % ("at_most", limit)), phases=ROLLING), [want],
             CODES.get(want["verdict"], 1), "8 m by the times shown.", naive=False)

    way("clock", "8.5 m", unproven("clock_doubt", best=0.5, tol=0.21, tol_best_only=True, unit="m"))
    way("clock-far", "12 m", expect("rule", "met", best=4, tol=0.21, tol_best_only=True, unit="m"))
    way("clock-over", "5 m", expect("rule", "deviated", best=-3, tol=0.21, tol_best_only=True, unit="m"))
    way("clock-sure", "8.5 m", expect("rule", "met", best=0.5, tol=0.21, tol_best_only=True, unit="m"), wide=0)


def ages():
    """A word holds no longer than the procedure's longest age of it."""
    age = 'longest_age { fact: "scene.set" age: "1 min" }\n'
    on, off = (lambda when: (when, "operator", *scene(True))), (lambda when: (when, "operator", *scene(False)))
    form = 'comes_first { first: "scene.set.on" then: "secured.checked" }'
    check = lambda when: (when, *CHECK)
    for name, lines, want in (("held", (on(10), check(69)), exact("rule", "met", 59)),
                              ("once", (on(10), check(71)), unproven("cut_short")),
                              ("again", (on(10), on(60), check(100)), expect("rule", "met", unit="s")),
                              ("late", (on(10), on(80), check(75)), unproven("no_data")),
                              ("off", (on(10), off(30), check(200)), unproven("cut_short"))):
        lost_line("age-" + name, lines, form, want, "Set, and for how long is that so?", age, naive=False)


def small_things():
    rigging = lambda when, on: (when, "operator", "rigging", {"on": on, "point": "front_eye", "gear": ["soft-1"], "legsAngleDeg": 0})
    lost_line("point-off", (rigging(10, True), rigging(40, False)), 'count_limit { phase: "job" event: "rigging:front_eye.off" exactly: 1 }',
              exact("rule", "met", 0, "items"), "Off the one point, once.", naive=False)
    # A lost reading of the winch's is no lost word about straps.
    t = Trace("gap-strap-line", BASE)
    t.op(-60, "opened", procedures=["p"], vehicle="unknown", truck="truck-7", operator="card-3f", massKg=4700, massSdKg=0)
    t.put(-59, "gps.truck", "truckMotion", {"moving": False})
    for n, wheel in enumerate(("LF", "RF", "LR", "RR")):
        t.op(-50 + 10 * n, "tiedown", on=True, gear=f"strap-{n + 1}", wheel=wheel, path="ACROSS")
    for when, text in ((0, "here"), (10, "missing"), (40, "here")):
        t.put(when, "line", "note", {"text": text})
    t.put(60, "gps.truck", "truckMotion", {"moving": True})
    t.put(600, "gps.truck", "truckMotion", {"moving": False})
    t.op(700, "closed", outcome="SIGNED")
    form = 'enough_strength { phase: "driving" of: "tiedowns" times_mass: "0.5" }'
    case("gap-strap-line", less_missing(t.texts()), proc("strength", ("strength", form), phases=DRIVING),
         [exact("strength", "met", 50, "kg")], 0, "A line of the winch's is lost.", STRAPS)
    # Seen on after a lost line, and ended before: in the gap, or by nothing it began.
    lost_line("stays-unseen", ((5, "operator", *scene(False)), (20, *HERE), (30, *LOST), (40, *CHECK), (50, "operator", *scene(True)),
                               (100, *CHECK), (110, "operator", *scene(False))),
              'stays_until { state: "scene.set" until: "secured.checked" }', expect("rule", "unproven", reason="no_data"),
              "Set again, or all along since the lost line.", naive=False)


def make():
    by_the_winch()
    rope_by_its_own_clock()
    ages()
    small_things()
