"""Where instruments decide a fact: thresholds, how long they must last, and how long a calibration counts. Figures are
those of the vocabulary, section 2 and 3.
"""

from corpus_cases import case, proc, trace
from mutant_cases import SET, clamp
from timed_cases import exact
from trace_kit import expect


def count(name, event, n, samples, about, register="", naive=True, lines=(), phase="job"):
    """The event happens n times in the phase; "set" is from 5 s to 65 s."""
    t = trace(name, bursts=True)
    if phase == "set":
        t.op(5, "scene", set=True)
        t.op(65, "scene", set=False)
    for when, signal, value in samples:
        t.sample(when, signal.split(".")[0], signal, value)
    for when, kind, content in lines:
        t.op(when, kind, **content)
    t.op(70, "closed", outcome="SIGNED")
    form = f'count_limit {{ phase: "{phase}" event: "{event}" exactly: {n} }}'
    more = {} if naive else {"naive": False}
    case(name, t.texts(), proc("rule", ("rule", form), phases=SET if phase == "set" else ""), [exact("rule", "met", 0, "items")], 0,
         about, register, **more)


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
        count("pulling-" + name, "line.pulling." + event, n, pull(*parts, dt=0.2), "300 N for 500 ms until under 150 N for 1 s.",
              phase="set")


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


def debounced_phases():
    """A stay, or a break, under 3 s is none; what lasts is dated at its first edge."""
    phases = 'phase { id: "calm" opens: "scene.set.on" closes: "scene.set.off" longest: "10 min" debounce: "3 s" }\n'
    stays = {"short": (10, 12), "long": (10, 13), "break": (10, 30, 32, 60), "apart": (10, 30, 33, 60), "flicker": (10, 11, 12, 40)}
    for name, when, n in (("short", 11, 0), ("long", 11, 1), ("break", 31, 1), ("apart", 31, 0), ("flicker", 11.5, 1), ("flicker", 9, 0)):
        t = trace(f"calm-{name}" + ("-before" if when == 9 else ""), bursts=True)
        for i, at in enumerate(stays[name]):
            t.put(at, "desk", "scene", {"set": i % 2 == 0})
        t.put(when, "desk", "arrived", {})
        t.op(90, "closed", outcome="SIGNED")
        form = f'count_limit {{ phase: "calm" event: "arrived" exactly: {n or 1} }}'
        want = exact("rule", "met", 0, "items") if n else expect("rule", "") if name == "short" else exact("rule", "deviated", -1, "items")
        case(t.job, t.texts(), proc("rule", ("rule", form), phases=phases), [want], 0 if want["verdict"] != "deviated" else 2,
             "Whether the arrival lies in the phase.", naive=False)


def shared_risk():
    """N_eff = max(1, 6 T / tau): a phase shorter than tau / 6 is one look, z = 1.645."""
    for name, longest, value, want in (
            ("one-look", "1 s", 10.85, expect("rule", "unproven", reason="too_close", unit="V")),  # -0.15 + 1.645 x 0.1 > 0
            ("one-look-sure", "1 s", 10.83, expect("rule", "deviated", unit="V")),
            ("six-looks", "10 s", 10.764, expect("rule", "unproven", reason="too_close", unit="V")),  # z = 2.394
            ("six-looks-sure", "10 s", 10.758, expect("rule", "deviated", unit="V"))):
        t = trace("risk-" + name)
        t.op(10, "scene", set=True)
        t.op(40, "scene", set=False)
        for at, signal, volts in steps("clamp.volts", (60, value)):
            t.sample(at, "clamp", signal, volts)
        t.op(60, "closed", outcome="SIGNED")
        form = 'limit_in_phase { phase: "set" quantity: "clamp.volts" at_least: "11 V" sustained: "1 s" longest_gap: "2 s" }'
        case("risk-" + name, t.texts(), proc("rule", ("rule", form),
                                             phases=f'phase {{ id: "set" opens: "scene.set.on" closes: "scene.set.off" longest: "{longest}" }}\n'),
             [want], 2 if want["verdict"] == "deviated" else 1, f"{value} V of 11, s 0.1 V with tau 10 s.",
             'sensor { id: "v" channel: "clamp.volts" sd: "100 mV" tau: "10 s" certificate: "C-1" valid_until: "2026-12-31" }\n')


def make():
    debounced_phases()
    shared_risk()
    pulls()
    wheels_by_name()
    calibrations()
