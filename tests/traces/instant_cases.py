"""Cases of what comes in one instant, of a stay told by two clocks, and of what a gap hides up to its last instant. Each decided from
the written rule semantics.
"""

from corpus_cases import case, proc, trace
from form_cases import MODE, OFF, ON
from kernel_cases import ARRIVED, CHECK, CODES, HERE, LOST, lost_line, unproven
from mutant_cases import SET
from timed_cases import exact
from trace_kit import expect

STAY = 'phase { id: "stay" opens: "arrived" closes: "secured.checked" longest: "10 min" }\n'
PANEL = lambda kind, content: ("panel", kind, content)
READY = lambda on: PANEL("driveReady", {"confirmed": on})
SAID, MISSING = (PANEL("note", {"text": text}) for text in ("here", "missing"))


def last_instant_of_a_gap():
    """F.off (F.on) of what was off (on) before a gap and is so after it: it may have been otherwise, and become so again just then."""
    form = 'count_limit { phase: "stay" event: "drive.ready.%s" at_least: 1 }'
    gap = lambda before, after, when: (
        (12, *READY(before)), (15, *SAID), (16, *MISSING), (17, *SAID), (20, *ARRIVED), (when, *READY(after)), (40, *CHECK))
    open_count = unproven("no_data", best=-1, lo=-1, hi=None, unit="items")
    lost_line("gap-ends-off", gap(False, False, 20), form % "off", open_count, "Off just as the stay begins, as it was before the gap.", STAY)
    lost_line("gap-ends-on", gap(True, True, 20), form % "on", open_count, "On just as the stay begins, as it was before the gap.", STAY)
    lost_line("gap-ends-first", gap(False, False, 20)[1:], form % "off", open_count, "Off just as the stay begins, and no word before the gap.", STAY)
    lost_line("gap-ends-before", gap(False, False, 19.9), form % "off", exact("rule", "deviated", -1, "items"),
              "Off 0.1 s before the stay: what the gap hides came before it.", STAY)
    answer = 'follows_within { after: "arrived" then: "drive.ready.off" within: "10 s" }'
    lost_line("gap-ends-answer", gap(False, False, 20), answer, unproven("no_data", best=None, lo=None, hi=10, unit="s"),
              "It may have gone off just then, and so have answered.")
    lost_line("gap-ends-unanswered", gap(False, False, 19.9), answer, expect("rule", "deviated", best=None, lo=None, hi=-270, unit="s"),
              "It was off before.")


def freed_by_its_own_event():
    """`unless` E: E before the deciding instant. An A frees the A's after it, also one that a gap hides."""
    form = 'unless: "arrived" follows_within { after: "arrived" then: "secured.checked" within: "0 s" }'
    lost_line("own-unless-lost", ((3, *HERE), (5, *LOST), (12, *HERE), (20, *ARRIVED)), form,
              unproven("no_data", best=None, lo=None, hi=None, unit="s"), "A line is lost before it arrived; it may have said so before.")
    lost_line("own-unless-met", ((3, *HERE), (5, *LOST), (12, *HERE), (20, *ARRIVED), (20, *CHECK)), form,
              exact("rule", "met", 0), "Answered at once: met, or freed.")
    lost_line("own-unless", ((3, *HERE), (12, *HERE), (20, *ARRIVED)), form,
              expect("rule", "deviated", best=None, lo=None, hi=-280, unit="s"), "Nothing is lost.")


def stays_by_clocks():
    """Form 3: clock_doubt where the clocks leave open whether C was lost after A and before B, or which B came first after A."""
    form = 'stays_until { state: "scene.set" until: "secured.checked"%s }'
    here = lambda when, kind, content: (when, "operator", kind, content, {"timeUncertaintyMs": 0})
    desk = lambda when, ms, kind, content: (when, "desk", kind, content, {"clock": "desk", "timeUncertaintyMs": ms})
    scene = lambda on: ("scene", {"set": on})
    check = CHECK[1:]

    def stay(name, lines, want, about, more=""):
        t = trace("stay-clock-" + name, bursts=True)
        for when, source, kind, content, stamp in lines:
            t.put(when, source, kind, content, **stamp)
        t.put(300, "operator", "closed", {"outcome": "SIGNED"}, timeUncertaintyMs=0)
        case("stay-clock-" + name, t.texts(), proc("rule", ("rule", form % more)), [want], CODES.get(want["verdict"], 1), about)

    doubt = lambda best, lo, hi: unproven("clock_doubt", best=best, lo=lo, hi=hi, unit="s")
    on = here(10, *scene(True))
    stay("near", (on, here(41, *scene(False)), desk(40, 2000, *check)), doubt(1, -1, 3), "Lost 1 s after the end, by clocks 2 s apart.")
    stay("near-sure", (on, here(45, *scene(False)), desk(40, 2000, *check)), expect("rule", "met", best=5, lo=3, hi=7, unit="s"),
         "Lost 5 s after the end.")
    stay("no-clock", (on, here(60, *scene(False)), desk(40, None, *check)), doubt(20, None, None), "The end by a clock that nobody can place.")
    stay("no-clock-most", (on, desk(40, None, *check)), doubt(260, None, None), "The same, and it must have come within a minute.",
         ' at_most: "60 s"')
    stay("two-ends", (on, here(18, *scene(False)), here(26, *check), desk(27, 12000, *check)), doubt(-8, None, 3),
         "Lost at 18 s; which of two ends came first the clocks leave open, and one may have come before.")
    stay("two-ends-sure", (on, here(18, *scene(False)), here(26, *check), desk(27, 500, *check)), exact("rule", "deviated", -8),
         "Lost at 18 s, before either of two ends.")
    stay("begun-after", (desk(10, 2000, *scene(True)), here(9, *check), here(40, *scene(False)), here(50, *check)), doubt(-10, None, 31),
         "The first end a second before the stay began, by clocks 2 s apart.")
    stay("lost-before", (on, desk(11, 3000, *scene(False)), here(60, *check)), doubt(-49, -52, None),
         "Lost a second after it began, or before, by clocks 3 s apart.")
    stay("lost-after", (desk(2, 3000, *scene(True)), desk(9, 3000, *scene(False)), on, here(60, *check)), doubt(-51, -54, None),
         "Lost a second before it was on again, or after, by clocks 3 s apart.")
    stay("dip", (on, desk(20, 3000, *scene(False)), here(24, *scene(True)), here(60, *check)), doubt(-40, -43, None),
         "Lost for 4 s, or for longer than the bridge of 5, or for good, by clocks 3 s apart.", ' bridge: "5 s"')
    stay("dip-short", (on, desk(20, 1000, *scene(False)), here(23, *scene(True)), here(60, *check)),
         expect("rule", "met", best=240, lo=240, hi=None, unit="s"), "Lost for 4 s at the most, bridge 5 s.", ' bridge: "5 s"')
    stay("open-most", (desk(10, 3000, *scene(True)),), unproven("cut_short", best=None, lo=None, hi=2, unit="s"),
         "No end; 290 s of 289, by clocks 3 s apart.", ' at_most: "289 s"')


def begun_and_ended_unseen():
    """A stay first seen after a gap may have begun in it, and what ends it may have come there: the loss later is no loss before B."""
    form = 'stays_until { state: "scene.set" until: "secured.checked" }'
    lost_line("stay-begun-unseen", ((1, *OFF), (8, *HERE), (9, *LOST), (20, *ON), (30, *OFF), (40, *CHECK)), form,
              unproven("no_data", best=-10, lo=-10, hi=None, unit="s"), "Two lines may have said on, and checked, before it was seen to be on.")
    ready = 'stays_until { state: "drive.ready" until: "secured.checked" }'
    lost_line("stay-begun-in-order", ((5, *READY(False)), (8, *SAID), (9, *MISSING), (20, *READY(True)), (30, *READY(False)), (40, *CHECK)), ready,
              exact("rule", "deviated", -10), "The panel's line lost may have said on, but a check only people say.")
    scene = lambda source, when, on: (when, source, "scene", {"set": on})
    desk = lambda text: ("desk", "note", {"text": text})
    bridged = 'stays_until { state: "scene.set" until: "secured.checked" bridge: "25 s" }'
    again = lambda back: (scene("operator", 10, True), (90, *desk("here")), (95, *desk("missing")), (100, *CHECK), scene("desk", back, True))
    lost_line("stay-again-unseen", again(180), bridged, unproven("no_data", best=0, lo=0, unit="s"),
              "Held until the check but for a gap that the bridge spans; after the check the desk may have said off, and on again.")
    lost_line("stay-again-before", again(98), bridged, expect("rule", "met", best=200, lo=200, unit="s"), "The gap is over before the check.")


def all_at_once():
    """Form 9: a check before the truck has moved at all is one at the start, also in the instant in which it starts."""
    form = 'recheck_every { phase: "set" check: "secured.checked" time: "100 s" first_time: "20 s" }'
    truck = lambda moving: ("gps.truck", "truckMotion", {"moving": moving})
    set_on, set_off = ON, OFF
    for name, stands, starts, want, about in (
            ("once", 5, 10, exact("rule", "deviated", -40), "Checked, begun and off in one instant: the first leg is 60 s of 20."),
            ("then", 5, 10.001, exact("rule", "deviated", -39.999), "Off a millisecond later."),
            ("moving", None, 5, exact("rule", "met", 40), "On the move before: the check was one on the way, the usual leg is 60 s of 100."),
            ("just-moving", 5, 9.999999, exact("rule", "met", 40), "On the move a microsecond before.")):
        t = trace("recheck-" + name)
        if stands is not None:
            t.put(stands, *truck(False))
        t.put(starts, *truck(True))
        t.put(10, *set_on)
        t.put(10, "desk", *CHECK[1:])
        t.put(70, *set_off)
        t.op(300, "closed", outcome="SIGNED")
        case("recheck-" + name, t.texts(), proc("rule", ("rule", form), phases=SET), [want], CODES.get(want["verdict"], 1), about)


def on_by_another_clock():
    """F.off counts only if F was on before: where two clocks leave that open, and nothing is lost, it is clock_doubt."""
    form = 'comes_first { first: "drive.ready.off" then: "secured.checked" ever: true }'
    t = trace("off-by-clock")
    t.put(30, "operator", "secured", {"checked": True}, timeUncertaintyMs=0)
    t.put(33, "panel", "driveReady", {"confirmed": True}, clock="panel", timeUncertaintyMs=5000)
    t.put(300, "operator", "closed", {"outcome": "SIGNED"}, timeUncertaintyMs=0)
    case("off-by-clock", t.texts(), proc("rule", ("rule", form)), [unproven("clock_doubt", applies="unknown")], 1,
         "On 3 s after the check by a clock 5 s apart.")


def limits_between_whole_units():
    """Pulls are judged in whole newtons; 70 lbf are 311.38 N (NIST SP 811), so 311 N are under them and at most, and 312 neither."""
    register = 'sensor { id: "it" channel: "line.pull" sd: "0 N" tau: "200 ms" certificate: "C" valid_until: "2027-12-31" }\n'
    newtons = 4.4482216152605
    for word, pull, verdict, whole in (("under", 311, "met", 312), ("under", 312, "deviated", 312),
                                       ("at_most", 311, "met", 311), ("at_most", 312, "deviated", 311)):
        form = f'limit_in_phase {{ phase: "set" quantity: "line.pull" {word}: "70 lbf" sustained: "1 s" longest_gap: "5 s" }}'
        lines = [(5 + 0.5 * n, "line", "sample", {"signal": "line.pull", "value": pull}) for n in range(140)]
        lost_line(f"whole-{word.replace('_', '-')}-{pull}", [(10, *ON), (40, *OFF), *lines], form,
                  exact("rule", verdict, (whole - pull) / newtons, "lbf"), f"{pull} N against 311.38.", SET, register)


def make():
    limits_between_whole_units()
    last_instant_of_a_gap()
    freed_by_its_own_event()
    stays_by_clocks()
    begun_and_ended_unseen()
    all_at_once()
    on_by_another_clock()
