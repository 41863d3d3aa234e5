"""Cases of the lines themselves: a clock's offset, straps of one name, words that were lost before anybody spoke of their fact. Each
decided from the written rule semantics.
"""

from corpus_cases import case, clamp, proc, trace
from kernel_cases import HERE, LOST, lost_line, unproven
from timed_cases import exact
from trace_kit import expect


def offset_to_the_nearest():
    """true = shown - offset (vocabulary 1), to the microsecond: 0.9 us are 1, as quantities are stored."""
    for name, shown, offset, margin in (("offset-nearest", 10.000001, 0.0009, 0), ("offset-behind", 9.999999, -0.0009, 0),
                                        ("offset-nearer", 10, 0.0004, 0), ("offset-half", 10.000001, 0.0005, 0),
                                        ("offset-over", 10, -0.0006, -1e-6)):
        t = trace(name)
        clamp(t, -20, "NEGATIVE", True, "probe", clock="probe")
        clamp(t, -10, "POSITIVE", True)
        t.op(-5, "clockOffset", clock="probe", offsetMs=offset, sdMs=0)
        clamp(t, shown, "NEGATIVE", False, "probe", clock="probe")
        clamp(t, 30, "POSITIVE", False)
        t.op(60, "closed", outcome="SIGNED")
        form = 'comes_first { first: "clamp.negative.off" then: "clamp.positive.off" min_gap: "20 s" }'
        verdict = "met" if margin == 0 else "deviated"
        case(name, t.texts(), proc("order", ("order", form)), [exact("order", verdict, margin)], 0 if margin == 0 else 2,
             f"Off at {shown:.6f} s by a clock {offset} ms ahead, 20 s before the other.")


def straps_of_one_name():
    """A piece is gear + wheel or point (vocabulary 1): off at the point LF leaves the one at the wheel LF on."""
    for name, place, verdict in (("strap-point", "point", "met"), ("strap-wheel", "wheel", "deviated")):
        t = trace(name)
        t.op(10, "tiedown", on=True, gear="strap", wheel="LF", path="DIRECT")
        t.op(20, "tiedown", on=True, gear="strap", point="LF", path="DIRECT")
        t.op(30, "tiedown", on=False, gear="strap", **{place: "LF"}, path="DIRECT")
        if place == "wheel":
            t.op(40, "tiedown", on=False, gear="strap", point="LF", path="DIRECT")
        t.op(50, "driveReady", confirmed=True)
        t.op(60, "closed", outcome="SIGNED")
        want = exact("rule", "met", 40) if verdict == "met" else expect("rule", "deviated")
        case(name, t.texts(), proc("rule", ("rule", 'comes_first { first: "tied.on" then: "drive.ready.on" }')), [want],
             0 if verdict == "met" else 2, "Two straps of one gear, at a wheel and a point of one name; the one at the %s comes off." % place)


def clamps_nobody_saw():
    """What a gap hides is unknown, also where no line has named it (vocabulary 2)."""
    form = 'never_together { state: "boost" with: "scene.set" tolerate: "0 s" }'
    scene = lambda when, on: (when, "operator", "scene", {"set": on})
    lost_line("boost-unseen", (scene(10, True), (20, *LOST), (30, *HERE), scene(60, False)), form, unproven("no_data", applies="unknown"),
              "A lost line may have said that the clamps are on.")
    lost_line("boost-nothing", (scene(10, True), (30, *HERE), scene(60, False)), form, expect("rule", ""),
              "Nothing is lost, and nobody says clamps.")


def said_twice_and_otherwise():
    """Exact duplicates are ignored, other content of the same number makes the source unknown from there on: in both at once, too."""
    for name, other in (("T10-again", "SUSPECT"), ("T10-again-later", "time")):
        t = trace(name)
        clamp(t, 10, "NEGATIVE", True)
        clamp(t, 20, "NEGATIVE", False)
        t.op(60, "closed", outcome="SIGNED")
        lines = t.texts()
        off = next(line for line in lines if '"on":false' in line)
        changed = off.replace(":20Z", ":25Z") if other == "time" else off.replace('"clamp":', '"quality":"SUSPECT","clamp":')
        assert changed != off
        case(name, [*lines, off, changed], proc("rule", ("rule", 'count_limit { phase: "job" event: "clamp.negative.off" at_most: 0 }')),
             [expect("rule", "unproven", reason="sources_disagree", unit="items")], 1,
             "The line that says off came twice, and once with other content.")


def make():
    offset_to_the_nearest()
    straps_of_one_name()
    clamps_nobody_saw()
    said_twice_and_otherwise()
