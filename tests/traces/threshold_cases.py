"""Where instruments decide a fact: thresholds, how long they must last, and how long a calibration counts. Figures are
those of the vocabulary, section 2 and 3.
"""

from corpus_cases import case, proc, trace
from mutant_cases import clamp
from timed_cases import exact
from trace_kit import expect


def count(name, event, n, samples, about, register="", naive=True, lines=()):
    """The event happens n times."""
    t = trace(name, bursts=True)
    for when, signal, value in samples:
        t.sample(when, signal.split(".")[0], signal, value)
    for when, kind, content in lines:
        t.op(when, kind, **content)
    t.op(70, "closed", outcome="SIGNED")
    form = f'count_limit {{ phase: "job" event: "{event}" exactly: {n} }}'
    more = {} if naive else {"naive": False}
    case(name, t.texts(), proc("rule", ("rule", form)), [exact("rule", "met", 0, "items")], 0, about, register, **more)


def steps(signal, *parts, dt=0.5, start=0.0):
    """Samples every dt: (until, value) one after the other."""
    out, now = [], start
    for until, value in parts:
        while now < until - 1e-9:
            out.append((round(now, 3), signal, value))
            now += dt
    return out


def pulls():
    pull = lambda *parts, dt=0.5: steps("line.pull", *parts, dt=dt)
    for name, n, parts in (("taut", 1, ((20, 60), (24, 500), (70, 60))), ("taut-less", 0, ((20, 60), (24, 499), (70, 60))),
                           ("taut-short", 0, ((20, 60), (21.5, 500), (70, 60))), ("taut-just", 1, ((20, 60), (22, 500), (70, 60)))):
        count("pull-" + name, "line.taut.on", n, pull(*parts), "500 N for 2 s is taut.")
    for name, event, n, parts in (
            ("on", "on", 1, ((20, 60), (24, 300), (70, 60))), ("on-less", "on", 0, ((20, 60), (24, 299), (70, 60))),
            ("on-short", "on", 0, ((20, 60), (20.4, 300), (70, 60))), ("on-just", "on", 1, ((20, 60), (20.6, 300), (70, 60))),
            ("off", "off", 1, ((20, 60), (30, 900), (70, 149))), ("off-more", "off", 0, ((20, 60), (30, 900), (70, 150))),
            ("off-short", "off", 1, ((20, 60), (30, 900), (30.8, 149), (60, 900), (70, 60))),
            ("off-long", "off", 2, ((20, 60), (30, 900), (31.2, 149), (60, 900), (70, 60)))):
        count("pulling-" + name, "line.pulling." + event, n, pull(*parts, dt=0.2), "300 N for 500 ms until under 150 N for 1 s.")


def wheels_by_name():
    at = lambda when, which, on: (when, "wheels", {"which": which, "on": on})
    car = 'vehicle { id: "unknown" mass: "1640 kg" driven: %s }\n'
    front, rear = (at(10, "LF", "LIFT"), at(20, "RF", "LIFT")), (at(10, "LR", "LIFT"), at(20, "RR", "LIFT"))
    for name, driven, lines, n in (("front", "FRONT", front, 1), ("front-rear", "FRONT", rear, 0), ("rear", "REAR", rear, 1),
                                   ("rear-front", "REAR", front, 0), ("half", "FRONT", front[:1], 0), ("all", "ALL", front, 0),
                                   ("all-up", "ALL", front + (at(30, "LR", "DECK"), at(40, "RR", "DECK")), 1)):
        count("driven-" + name, "driven_wheels.on_ground.off", n, (), "Which wheels drive, and which are off the ground.", car % driven, False, lines)
    skates = [at(10 + 10 * i, wheel, "SKATE" if i % 2 else "DOLLY") for i, wheel in enumerate(("LF", "RF", "LR", "RR"))]
    count("skates", "wheels.on_skates.on", 1, (), "None on the ground, some on skates or dollies.", "", False, skates)
    count("skates-not", "wheels.on_skates.on", 0, (), "One is still on the ground.", "", False, skates[:3])
    count("skates-deck", "wheels.on_skates.on", 1, (), "Two on skates, two on the deck.", "", False,
          skates[:2] + [at(50, "LR", "DECK"), at(60, "RR", "DECK")])
    count("skates-none", "wheels.on_skates.on", 0, (), "All on the deck.", "", False, [at(50, "ALL", "DECK")])


def calibrations():
    """A jaw that says on all the while stands over a word only while it is calibrated, its last day in."""
    for name, more, stands in (("until", 'valid_until: "2026-12-31"', True), ("over", 'valid_until: "2026-03-01"', False),
                               ("last-day", 'valid_until: "2026-03-02"', True),
                               ("not-yet", 'valid_from: "2026-03-03" valid_until: "2026-12-31"', False),
                               ("first-day", 'valid_from: "2026-03-02" valid_until: "2026-12-31"', True)):
        t = trace("jaw-" + name)
        for when, (kind, content) in ((5, clamp("NEGATIVE", True)), (12, clamp("POSITIVE", True)), (40, clamp("NEGATIVE", False)),
                                      (60, clamp("POSITIVE", False))):
            t.op(when, kind, **content)
        for i in range(-58, 118):
            t.sample(i + 0.4, "clamp", "clamp.neg.contact", 1.0 if i >= 5 else 0.0)
        t.op(70, "closed", outcome="SIGNED")
        register = f'sensor {{ id: "jaw" channel: "clamp.neg.contact" certificate: "C-1" {more} }}\n'
        case("jaw-" + name, t.texts(), proc("rule", ("rule", 'comes_first { first: "clamp.negative.off" then: "clamp.positive.off" }')),
             [expect("rule", "deviated") if stands else exact("rule", "met", 20)], 2 if stands else 0,
             "The word says off first, the jaw says on.", register, naive=False)


def make():
    pulls()
    wheels_by_name()
    calibrations()
