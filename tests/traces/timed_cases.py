"""Corpus cases of the rule forms over time: dwell, waits, overlaps, re-checks, counts, claims, late lines.
Expectations are the written ones; their arithmetic is repeated beside them.
"""

import json

from corpus_cases import ORDER, case, clamp, both_on, fixes, mode, proc, trace, TOTAL
from trace_kit import expect, write_file

DWELL = proc("dwell", ("dwell", 'stays_until { state: "boost" until: "screen.awake.on" bridge: "2 s" }'))
DWELL_FREED = DWELL.replace("stays_until", 'unless: "abandoned"\n  stays_until')
ALONE = 'never_together { state: "held_by_line_alone" with: "truck.moving" tolerate: "2 s"%s }'


def exact(rule, verdict, seconds, unit="s", **more):
    return expect(rule, verdict, best=seconds, lo=seconds, hi=seconds, tol=0.001, unit=unit, **more)


def dwell_cases():
    def dwell(name, off, wakes, expected, code, about, procedure=DWELL, dips=(), end=900, abandoned=None):
        t = trace(name)
        clamp(t, -5, "POSITIVE", True)
        clamp(t, 0, "NEGATIVE", True)
        for start, length in dips:
            clamp(t, start, "NEGATIVE", False)
            clamp(t, start + length, "NEGATIVE", True)
        if wakes is not None:
            t.op(wakes, "screen", awake=True)
        if abandoned is not None:
            t.op(abandoned, "abandoned", words="the screen stays dark")
        if off is not None:
            clamp(t, off, "NEGATIVE", False)
        if abandoned is None:
            t.op(end, "closed", outcome="SIGNED")
        case(name, t.texts(), procedure, [expected], code, about)

    dwell("T11", 175, 160, exact("dwell", "met", 15, basis="said"), 0, "Boost on, screen wakes 2:40, boost off 2:55.")
    dwell("T12", 110, 130, exact("dwell", "deviated", -20, basis="said"), 2, "Boost off 1:50, screen wakes 2:10.")
    # 0.4 s is no change at all (500 ms); 1.5 s is one, and bridged.
    dwell("T14", 175, 160, exact("dwell", "met", 15), 0, "Clamps dip 0.4 s and 1.5 s, bridge 2 s.", dips=((50, 0.4), (90, 1.5)))
    dwell("T14-long", 175, 160, exact("dwell", "deviated", -110), 2, "Clamps dip 5 s, bridge 2 s.", dips=((50, 5),))
    dwell("T15", 720, None, expect("dwell", "deviated", best=None, lo=None, hi=-180, tol=0.001, unit="s"), 2,
          "Screen never wakes, boost off after 12 min.", procedure=DWELL_FREED)
    dwell("T15-abandoned", 720, None, expect("dwell", ""), 0, "The same, abandoned first.", procedure=DWELL_FREED,
          abandoned=700)
    dwell("T15-cut", None, None, expect("dwell", "unproven", reason="cut_short"), 1, "The job ends with the boost on.")


def overlap_cases():
    def alone(name, moves, expected, code, about, clear="", kmh=0.9):
        t = trace(name)
        t.put(-59, "gps.truck", "truckMotion", {"moving": False})
        t.op(-50, "rigging", on=True, point="front_eye", gear=["soft-1"], legsAngleDeg=0)
        t.op(0, "wheels", which="ALL", on="DECK")
        for start, stop in moves:
            t.put(start, "gps.truck", "truckMotion", {"moving": True})
            t.put(stop, "gps.truck", "truckMotion", {"moving": False})
        for i in range(-55, 200) if clear else ():
            moving = any(a <= i < b for a, b in moves)
            t.put(i + 0.5, "gps.truck", "fix", {"latDeg": 44.5, "lonDeg": -30, "speedMps": kmh / 3.6 if moving else 0.0,
                                                "hSdM": 2.5, "speedSdMps": 0.1, "mode": 3})
        t.op(100, "tiedown", on=True, gear="strap-1", wheel="LF", path="DIRECT")
        t.op(200, "closed", outcome="SIGNED")
        case(name, t.texts(), proc("alone", ("alone", ALONE % clear)), [expected], code, about)

    alone("T29", ((20, 21.5),), exact("alone", "met", 0.5), 0, "Line alone, the truck settles for 1.5 s, tolerate 2 s.")
    # 40 m at 8 km/h: 18 s.
    alone("T30", ((20, 38),), exact("alone", "deviated", -16), 2, "Drives 40 m on the line alone, nothing excuses it.")
    clear = ' move_clear: "100 m under 10 km/h"'
    alone("T30-clear", ((20, 38),), expect("alone", ""), 0, "The same, moving clear of traffic.", clear, kmh=8)
    alone("T30-fast", ((20, 38),), exact("alone", "deviated", -16), 2, "The same at 32 km/h: no moving clear.", clear, kmh=32)
    alone("T30-apart", ((130, 160),), exact("alone", "met", 32), 0, "Tied down 30 s before the truck moves: 2 s + 30 s.")


def recheck_cases():
    phases = 'phase { id: "carry" opens: "arrived" closes: "custody.given" longest: "8 h" }\n'
    # sd so that 1.645 sd sqrt(2 tau T) = 0.5 km: one hour, tau 1.5 s.
    sd = 500 / 1.645 / (2 * 1.5 * 3600) ** 0.5

    def every(name, kilometres, expected, code, about):
        t = trace(name)
        t.op(0, "arrived")
        for i in range(-5, 3700, 3):
            speed = kilometres / 3.6 if 0 <= i < 3600 else 0.0
            t.put(i if i >= 0 else i + 0.01, "gps.truck", "fix",
                  {"latDeg": 44.5, "lonDeg": -30, "speedMps": round(speed, 4), "hSdM": 2.5, "mode": 3})
        t.op(3600, "secured", checked=True)
        t.op(3690, "custody", event="GIVEN", place="lot")
        t.op(3699, "closed", outcome="SIGNED")
        register = 'sensor { id: "gps" channel: "truck.speed" sd: "%.4f m/s" tau: "1.5 s" certificate: "C-1" valid_until: "2026-12-31" }\n' % sd
        form = 'recheck_every { phase: "carry" check: "secured.checked" distance: "240 km" first_distance: "80 km" }'
        case(name, t.texts(), proc("recheck", ("recheck", form), phases=phases), [expected], code, about, register)

    every("T37", 79.2, expect("recheck", "met", best=0.8, lo=0.3, hi=1.3, tol=0.09, unit="km"), 0,
          "First re-check due at 80 km, done at 79.2 +-0.5.")
    every("T37-late", 80.3, expect("recheck", "unproven", reason="too_close", best=-0.3, lo=-0.8, hi=0.2, tol=0.09, unit="km"),
          1, "The same, done at 80.3 +-0.5.")

    for name, more, expected, code in (("T38", "", expect("recheck", "met", best=900 / 3600, lo=0.25, hi=0.25, tol=0.0002, unit="h"), 0),
                                       ("T38-counts", " parked_counts: true",
                                        expect("recheck", "deviated", best=-5 / 60, lo=-5 / 60, hi=-5 / 60, tol=0.0002, unit="h"), 2)):
        t = trace(name)
        t.put(-1, "gps.truck", "truckMotion", {"moving": True})
        t.op(0, "arrived")
        t.put(3600, "gps.truck", "truckMotion", {"moving": False})
        t.put(4800, "gps.truck", "truckMotion", {"moving": True})
        t.op(3 * 3600 + 300, "custody", event="GIVEN", place="lot")
        t.op(3 * 3600 + 400, "closed", outcome="SIGNED")
        form = 'recheck_every { phase: "carry" check: "secured.checked" time: "3 h"%s }' % more
        case(name, t.texts(), proc("recheck", ("recheck", form), phases=phases), [expected], code,
             "3 h 05 min without a check, parked 20 min, the clock %s." % ("runs on" if more else "stops"))


def count_cases():
    t = trace("T49")
    for i in range(60):
        mode(t, i, "ROLLING" if i % 2 == 0 else "PARKED")
    t.op(120, "closed", outcome="SIGNED")
    phases = 'phase { id: "free" opens: "mode.rolling.on" closes: "mode.rolling.off" debounce: "3 s" longest: "5 min" }\n'
    rules = (("toggles", 'count_limit { phase: "job" event: "mode.rolling.on" at_most: 3 }'),
             ("phases", 'count_limit { phase: "job" event: "phase:free.on" at_most: 0 }'))
    t.bursts = True
    # 30 times on; none lasts 3 s, so the debounced phase never opens.
    case("T49", t.texts(), proc("count", *rules, phases=phases),
         [exact("toggles", "deviated", -27, "items"), exact("phases", "met", 0, "items")], 2,
         "Free-rolling toggled off and on for a minute: counted, phases debounced.")


def wait_cases():
    def wait(name, form, marks, expected, code, about):
        t = trace(name)
        for when, kind, content in marks:
            t.op(when, kind, **content)
        t.op(900, "closed", outcome="SIGNED")
        case(name, t.texts(), proc("wait", ("wait", form)), [expected], code, about)

    isolate = lambda on: {"metres": 5, "barrier": on}
    form = 'wait_between { from: "barrier.on" to: "first_touch" at_least: "5 min" }'
    touch = {"on": True, "point": "front_eye", "gear": ["soft-1"], "legsAngleDeg": 0}
    wait("wait-met", form, ((0, "isolation", isolate(True)), (310, "rigging", touch)), exact("wait", "met", 10), 0,
         "Isolated, touched 310 s later, 300 s wanted.")
    wait("wait-short", form, ((0, "isolation", isolate(True)), (290, "rigging", touch)), exact("wait", "deviated", -10), 2,
         "Isolated, touched 290 s later.")
    wait("wait-none", form, ((290, "rigging", touch),), expect("wait", ""), 0, "Never isolated: the order rule speaks.")
    follow = 'follows_within { after: "loaded.on" then: "photo.after:rear" within: "10 min" }'
    deck = {"which": "ALL", "on": "DECK"}
    shot = {"view": "rear", "when": "AFTER", "sha256": "ab" * 32, "mediaType": "image/jpeg"}
    wait("follows-met", follow, ((0, "wheels", deck), (420, "photo", shot)), exact("wait", "met", 180), 0,
         "Pictured 7 min after the car was up, 10 allowed.")
    wait("follows-late", follow, ((0, "wheels", deck), (660, "photo", shot)), exact("wait", "deviated", -60), 2,
         "Pictured after 11 min.")
    wait("follows-none", follow, ((0, "wheels", deck),),
         expect("wait", "deviated", best=None, lo=None, hi=-300, tol=0.001, unit="s"), 2, "Never pictured, 15 min to the end.")
    wait("follows-cut", follow, ((400, "wheels", deck),), expect("wait", "unproven", reason="cut_short"), 1,
         "The job ends before the 10 min are over.")


def claim_cases():
    form = ('sources_agree { phase: "job" claim: "clamp.negative.off" with: "clamp.volts" within: "2 s" }')

    def claim(name, falls, expected, code, about, volts=True):
        t = trace(name)
        both_on(t, "operator")
        for i in range(-59, 120) if volts else ():
            t.sample(i + 0.4, "clamp", "clamp.volts", 12.6 if falls is None or i + 0.4 < falls else 9.8)
        clamp(t, 60, "NEGATIVE", False, "operator")
        t.op(119, "closed", outcome="SIGNED")
        case(name, t.texts(), proc("claim", ("claim", form)), [expected], code, about)

    claim("claim-met", 60.4, exact("claim", "met", 1.6), 0, "The volts fall 0.4 s after the claim.")
    claim("claim-false", None, expect("claim", "deviated", best=None, unit="s"), 2, "The volts never fall: a tick in a box.")
    claim("claim-silent", None, expect("claim", "unproven", reason="no_data"), 1, "No voltmeter.", volts=False)
    # Two instruments that contradict each other accuse nobody, and what is built on them is open.
    t = trace("T27-equals")
    fixes(t, ((-5, 60, 7.0),))
    for i in range(-5, 60):
        t.put(i, "gps.truck", "fix", {"latDeg": 44.5, "lonDeg": -30, "speedMps": 0.0, "hSdM": 2.5, "speedSdMps": 0.1, "mode": 3})
    mode(t, 0, "ROLLING")
    mode(t, 40, "PARKED")
    t.op(59, "closed", outcome="SIGNED")
    rules = (("same", 'sources_agree { phase: "rolling" quantity: "vehicle.speed" with: "truck.speed" within: "2 km/h" }'),
             ("speed", 'limit_in_phase { phase: "rolling" quantity: "vehicle.speed" under: "5 km/h" sustained: "1 s" longest_gap: "3 s" }'))
    case("T27-equals", t.texts(), proc("same", *rules, phases='phase { id: "rolling" opens: "mode.rolling.on" closes: "mode.rolling.off" longest: "5 min" }\n'),
         [expect("same", "unproven", reason="sources_disagree"), expect("speed", "unproven", reason="sources_disagree")], 1,
         "Two receivers 7 km/h apart: neither is believed, and no rule built on them deviates.")


def set_cases():
    inner = ('rule { id: "a" comes_first { first: "identified" then: "first_touch" } } '
             'rule { id: "b" comes_first { first: "authority" then: "first_touch" } }')
    t = trace("sets")
    t.op(0, "identified", card="card-1", how="BOTH")
    t.op(30, "rigging", on=True, point="front_eye", gear=["soft-1"], legsAngleDeg=0)
    t.op(90, "closed", outcome="SIGNED")
    case("sets", t.texts(), proc("sets", ("both", "all_of { %s }" % inner), ("either", "any_of { %s }" % inner.replace('"a"', '"c"').replace('"b"', '"d"'))),
         [expect("both", "deviated", unit="s"), exact("either", "met", 30)], 2, "All of two rules, and any of them.")


def late_cases():
    # The negative's line comes in six hours late: a known gap until then.
    t = trace("T04")
    both_on(t)
    clamp(t, 0, "NEGATIVE", False)
    clamp(t, 20, "POSITIVE", False)
    t.op(300, "closed", outcome="SIGNED")
    lines = []
    for text in t.texts():
        row = json.loads(text)
        if row["source"] == "clamp" and row["seq"] == 3:
            row["received"] = "2026-03-02T16:00:00Z"
        lines.append(json.dumps(row, separators=(",", ":")))
    case("T04", lines, ORDER, [expect("order", "met", best=20, lo=20, hi=20, tol=0.001, unit="s", revisions=["no_data", "met"],
                                      never="deviated")], 0,
         "Negative-off arrives 6 h late: unproven(no_data) until then, met in a later revision, never deviated.",
         args=["--arrivals"])

    t = trace("T47")
    both_on(t)
    clamp(t, 0, "NEGATIVE", False)
    clamp(t, 20, "POSITIVE", False)
    t.op(300, "closed", outcome="SIGNED")
    t.op(400, "reopened")
    clamp(t, 420, "POSITIVE", True)
    clamp(t, 430, "NEGATIVE", True)
    clamp(t, 460, "POSITIVE", False)
    clamp(t, 480, "NEGATIVE", False)
    t.op(600, "closed", outcome="SIGNED")
    case("T47", t.texts(), ORDER, [expect("order", "deviated", best=-20, tol=0.001, unit="s", revisions=["met", "deviated"])], 2,
         "Opened again after closing: a new revision, the old one kept.", args=["--arrivals"])

    t = trace("T46")
    both_on(t)
    clamp(t, 0, "NEGATIVE", False)
    clamp(t, 20, "POSITIVE", False)
    t.op(300, "closed", outcome="SIGNED")
    write_file("T46", "newer.textproto", ORDER.replace('version: "1.0"', 'version: "1.1"').replace('then:', 'min_gap: "30 s" then:'))
    case("T46", t.texts(), ORDER,
         [exact("order", "met", 20, procedure="procedure"),
          exact("order", "deviated", -10, procedure="newer")], 2,
         "A newer version beside the job's own: a parallel set of findings.",
         procedures=["procedure.textproto", "newer.textproto"])


def receiver_case():
    # A receiver that holds 0.0 while the rope runs out 4 m.
    t = trace("T27")
    mode(t, 0, "ROLLING")
    for i in range(-30, 61):
        t.sample(i, "line", "line.pull", 2500 if 2 <= i < 35 else 60)
        t.sample(i, "line", "line.out", round(20 - 7 * min(max(0.0, (i - 5) / 26), 1.0), 3))
        t.put(i, "gps.tag", "fix", {"latDeg": 44.5, "lonDeg": -30, "speedMps": 0.0, "hSdM": 0.5, "speedSdMps": 0.05, "mode": 3})
    mode(t, 40, "PARKED")
    t.op(60, "closed", outcome="SIGNED")
    case("T27", t.texts(), TOTAL, [expect("distance", "unproven", reason="sources_disagree")], 1,
         "A receiver holds exactly 0.0 while the rope counter runs.")


def make():
    dwell_cases()
    overlap_cases()
    recheck_cases()
    count_cases()
    wait_cases()
    claim_cases()
    set_cases()
    late_cases()
    receiver_case()
