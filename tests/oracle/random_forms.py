"""Random jobs that aim at the branches of the rule forms: every option of each, edges in one instant, limits just reached, lines
lost at any place (random_cases.py says how they are used).

Times sit on a grid of 3 s and limits are multiples of it, so that what is equal is often equal.
"""

import hashlib
import json
import re

STEP = 3
# What may be said, and whose word it is.
WORDS = (
    ("scene", lambda on: {"set": on}), ("screen", lambda on: {"awake": on}), ("driveReady", lambda on: {"confirmed": on}),
    ("vehicleMode", lambda on: {"mode": "ROLLING" if on else "PARKED"}))
FACTS = ("scene.set", "scene.set", "screen.awake", "drive.ready", "mode.rolling")
MOMENTS = ("arrived", "secured.checked")
UNLESS = ("", "", "", "", 'unless: "arrived" ', 'unless: "scene.set.off" ', 'unless: "abandoned" ')
WHILE = ("", "", "", 'while_phase: "set" ', 'while_phase: "woke" ')
PHASES = ('phase { id: "set" opens: "scene.set.on" closes: "scene.set.off" longest: "1 h" }\n'
          'phase { id: "woke" opens: "screen.awake.on" closes: "screen.awake.off" longest: "1 h" }\n'
          'phase { id: "stay" opens: "secured.checked" closes: "arrived" longest: "1 h" }\n')

SENSOR = 'sensor { id: "%s" channel: "%s" sd: "%s" tau: "%s" certificate: "C" valid_until: "2027-12-31" }\n'
CAR = 'vehicle { id: "car" mass: "1640 kg" mass_sd: "25 kg" low_voltage: "12 V" boost_min: "11 V" boost_max: "15 V" wake_wait: "30 s" }\n'


def edge(rng):
    return f"{rng.choice(FACTS)}.{rng.choice(['on', 'off'])}"


def event(rng):
    return rng.choice(MOMENTS) if rng.random() < 0.5 else edge(rng)


def two_events(rng):
    one, two = event(rng), event(rng)
    return (one, two) if one != two else two_events(rng)


def seconds(rng, most=20):
    return f'"{STEP * rng.randint(0, most)} s"'


def order(rng):
    first, then = two_events(rng)
    return 'comes_first { first: "%s" then: "%s"%s%s }' % (
        first, then, rng.choice(["", "", f" min_gap: {seconds(rng, 6)}"]), rng.choice(["", "", " ever: true"]))


def follows(rng):
    return 'follows_within { after: "%s" then: "%s" within: %s }' % (*two_events(rng), seconds(rng))


def waits(rng):
    return 'wait_between { from: "%s" to: "%s" %s: %s }' % (*two_events(rng), rng.choice(["at_least", "at_most"]), seconds(rng))


def stays(rng):
    bounds = rng.choice(["", f" at_least: {seconds(rng)}", f" at_most: {seconds(rng)}"])
    return f'stays_until {{ state: "{rng.choice(FACTS)}" until: "{event(rng)}"{bounds}{rng.choice(["", f" bridge: {seconds(rng, 6)}"])} }}'


def together(rng):
    one, two = rng.sample(sorted(set(FACTS)), 2)
    return f'never_together {{ state: "{one}" with: "{two}" tolerate: {seconds(rng, 8)} }}'


def counts(rng):
    return 'count_limit { phase: "%s" event: "%s" %s: %d }' % (
        rng.choice(["job", "set", "woke", "stay"]), event(rng), *rng.choice([("at_most", rng.randint(0, 3)), ("exactly", rng.randint(0, 3)),
                                                                         ("at_least", rng.randint(1, 3))]))


def evidence(rng):
    items = rng.choice([["secured.checked"], ["secured.checked", "photo.before:front"], ["photo.before:front", "photo.before:rear", "photo.before:left"],
                        ["arrived", "secured.checked"]])
    return 'evidence_present { %s at_least: %d %s: "%s" }' % (
        " ".join(f'item: "{item}"' for item in items), rng.randint(1, 3), rng.choice(["before", "after"]), event(rng))


def recheck(rng):
    return 'recheck_every { phase: "%s" check: "%s" time: %s%s%s }' % (
        rng.choice(["set", "woke", "stay"]), rng.choice(MOMENTS), f'"{STEP * rng.randint(1, 20)} s"',
        rng.choice(["", f' first_time: "{STEP * rng.randint(1, 20)} s"']), rng.choice([" parked_counts: true", ""]))


SINGLE = (order, follows, waits, stays, together, counts, evidence, recheck)


def rule_set(rng):
    inner = " ".join(f'rule {{ id: "i{rng.random()}" {rng.choice(SINGLE[:-1])(rng)} }}' for _ in range(rng.randint(2, 3)))
    return f'{rng.choice(["all_of", "any_of"])} {{ {inner} }}'


def said(rng, t, count, sources, marks):
    """Words at `count` instants of the grid, now and then two at once; at first mostly how things stand."""
    now, states = 2 * STEP, {}
    whose = {kind: [rng.choice(sources)] for kind, _ in WORDS} if rng.random() < 0.5 else {}
    for i, (kind, content) in enumerate(WORDS):
        if rng.random() < 0.6:
            source, stamp = rng.choice(whose.get(kind, sources))
            states[kind] = rng.random() < 0.2
            t.put(0.6 * (i + 1), source, kind, content(states[kind]), **stamp)
    for _ in range(count):
        for _ in range(rng.choice([1, 1, 1, 2])):
            source, stamp = rng.choice(sources)
            if rng.random() < 0.6:
                kind, content = rng.choice(WORDS)
                source, stamp = rng.choice(whose.get(kind, sources))
                states[kind] = not states.get(kind, False) if rng.random() < 0.85 else states.get(kind, False)
                t.put(now, source, kind, content(states[kind]), **stamp)
            else:
                kind, content = rng.choice(marks)
                t.put(now, source, kind, content, **stamp)
        now += STEP * rng.choice([1, 2, 2, 3, 5, 8])
    return now


def picture(view):
    return "photo", {"view": view, "when": "BEFORE", "mediaType": "image/jpeg", "sha256": hashlib.sha256(view.encode()).hexdigest()}


MARKS = (("arrived", {}), ("secured", {"checked": True}), ("secured", {"checked": True}), ("note", {"text": "nothing"}),
         picture("front"), picture("rear"))


def end(rng, t, now):
    if rng.random() < 0.15:
        t.put(now + STEP, "operator", "abandoned", {"words": "left"})
    else:
        t.put(now + STEP * rng.randint(1, 9), "operator", "closed", {"outcome": "SIGNED"})


def trucks(rng, t, now):
    """The truck moves and stands, by its own receiver."""
    if rng.random() < 0.5:
        for i, when in enumerate(sorted(rng.sample(range(STEP, now, STEP), 4))):
            t.put(when + 1, "gps.truck", "truckMotion", {"moving": i % 2 == 0})


def rules_of(rng, count, own=True):
    """`own`: what frees a rule may be one of its own events."""
    rules = []
    for _ in range(count):
        form, unless = rng.choice(SINGLE + (rule_set,))(rng), rng.choice(UNLESS)
        free = unless if own or not unless or unless.split('"')[1] not in form else ""
        rules.append((form, free + rng.choice(WHILE)))
    return rules


def varied(rng, rules):
    """Some of the rules about a fact that is so at the opening, with a limit that the vehicle's file gives or does not, or of a way."""
    found = []
    for form, more in rules:
        form = form.replace("mode.rolling", rng.choice(["wheels.on_ground", "mode.rolling"]))
        if form.startswith(("stays_until", "wait_between")) and rng.random() < 0.3:
            form = re.sub(r'(at_\w+): "\d+ s"', r'\1: "vehicle.wake_wait%s"' % rng.choice(["", " or 12 s"]), form)
        if form.startswith("recheck_every") and rng.random() < 0.4:
            form = form.replace(" time:", ' distance: "60 m" time:')  # a way that nothing measures
        found.append((form, more))
    return found


def words_family(rng, kit):
    """People say what happens; a line may be lost."""
    t = kit.start(rng, "words")
    now = said(rng, t, rng.randint(6, 14), [("desk", {})], MARKS)
    trucks(rng, t, now)
    end(rng, t, now)
    lines = t.texts()
    for source, share in (("desk", 0.35), ("gps.truck", 0.1)):
        lines = kit.drop(rng, lines, source, share)
    return lines, kit.procedure(rules_of(rng, 6, own=False), PHASES), ""


def two_clocks_family(rng, kit):
    """The same by two devices of which one has a clock of its own."""
    t = kit.start(rng, "two-clocks", timeUncertaintyMs=0)
    own = {"clock": "panel", "timeUncertaintyMs": rng.choice([0, 1000, 3000, 3000, 6000, None])}
    now = said(rng, t, rng.randint(5, 10), [("desk", {"timeUncertaintyMs": 0}), ("panel", own)], MARKS)
    for when in rng.sample(range(STEP, now, STEP), 3):
        t.put(when, "panel", "wheels", {"which": "ALL", "on": rng.choice(["GROUND", "DECK"])}, **own)
    t.put(now + STEP * rng.randint(3, 9), "operator", "closed", {"outcome": "SIGNED"}, timeUncertaintyMs=0)
    return kit.drop(rng, t.texts(), "panel", 0.3), kit.procedure(varied(rng, rules_of(rng, 8)), PHASES), rng.choice([CAR, ""])


def panel_family(rng, kit):
    """Words at the truck and of a device that stands for an instrument, which may be lost; wheels, that stand on the ground at first."""
    t = kit.start(rng, "panel")
    now = said(rng, t, rng.randint(6, 12), [("desk", {}), ("panel", {})], MARKS)
    for when in rng.sample(range(STEP, now, STEP), 3):
        t.put(when + rng.choice([0, 1]), rng.choice(["desk", "operator"]), "wheels", {"which": "ALL", "on": rng.choice(["GROUND", "DECK"])})
    trucks(rng, t, now)
    end(rng, t, now)
    lines = t.texts()
    for source, share in (("desk", 0.2), ("panel", 0.3), ("operator", 0.2)):
        lines = kit.drop(rng, lines, source, share)
    return lines, kit.procedure(varied(rng, rules_of(rng, 8)), PHASES), rng.choice([CAR, ""])


def running_family(rng, kit):
    """A job that is not over."""
    t = kit.start(rng, "running")
    now = said(rng, t, rng.randint(4, 12), [("desk", {}), ("panel", {}), ("operator", {})], MARKS)
    trucks(rng, t, now)
    lines = t.texts()
    for source, share in (("desk", 0.2), ("panel", 0.2)):
        lines = kit.drop(rng, lines, source, share)
    return lines, kit.procedure(varied(rng, rules_of(rng, 8)), PHASES), rng.choice([CAR, ""])


def restless_family(rng, kit):
    """Clocks that step back, words taken back, lines after the end."""
    t = kit.start(rng, "restless")
    now = said(rng, t, rng.randint(6, 12), [("desk", {}), ("operator", {})], MARKS)
    t.put(now + STEP, "operator", "closed", {"outcome": "SIGNED"})
    if rng.random() < 0.4:
        said(rng, t, 2, [("desk", {})], MARKS)
        t.put(now + 4 * STEP, "desk", "secured", {"checked": True})
        t.put(now + 6 * STEP, "desk", "note", {"text": "late"})
    rows = [json.loads(text) for text in t.texts()]
    own = [row for row in rows if row["source"] == "desk"]
    if len(own) > 2 and rng.random() < 0.5:
        i = rng.randrange(1, len(own))
        own[i]["time"] = own[max(0, i - rng.randint(1, 3))]["time"]
        for later in own[i + 1:i + rng.randint(1, 3)]:
            later["time"] = own[i]["time"]
    lines = [json.dumps(row, separators=(",", ":")) for row in rows]
    return kit.drop(rng, lines, "desk", 0.4), kit.procedure(rules_of(rng, 8), PHASES), ""


def place(rng, t, when, source="gps.truck", **stamp):
    """A fix some metres north of 44.5 N, of 50 m of which radii speak."""
    t.put(when, source, "fix", {"latDeg": 44.5 + rng.choice([0, 20, 45, 50, 53, 80]) / 111_194.9, "lonDeg": -30 + rng.choice([0, 0, 3e-4]),
                                "speedMps": 0, "hSdM": rng.choice([0.0, 2.0, 4.0]), "speedSdMps": 0.1, "mode": rng.choice([3, 3, 3, 2, 1])}, **stamp)


def pictures_family(rng, kit):
    """Pictures, films and checks near an anchor in time and place, some damaged, by a camera with a clock of its own or none."""
    t = kit.start(rng, "pictures", timeUncertaintyMs=0)
    camera = rng.choice([{}, {}, {"clock": "camera", "timeUncertaintyMs": rng.choice([0, 1000, 3000, None])}])
    marks = MARKS + tuple(picture(view) for view in ("front", "left", "right")) + (
        ("film", {"sha256": "0" * 64, "mediaType": "video/mp4", "when": "BEFORE"}),)
    now = 2 * STEP
    for _ in range(rng.randint(6, 12)):
        kind, content = rng.choice(marks)
        by_camera = kind in ("photo", "film")
        damaged = {"quality": rng.choice(["BROKEN", "SUSPECT"])} if rng.random() < 0.1 else {}
        t.put(now, rng.choice(["camera", "desk"]) if by_camera else "desk", kind, content, **(camera if by_camera else {}), **damaged)
        if rng.random() < 0.3:
            t.put(now, "desk", "scene", {"set": rng.random() < 0.6})
        now += STEP * rng.choice([1, 1, 2, 3])
    for when in range(STEP, now, STEP * rng.choice([1, 3, 4])):
        place(rng, t, when, rng.choice(["gps.truck"] * 5 + ["gps.tag"]), **({"quality": "SUSPECT"} if rng.random() < 0.1 else {}))
    t.put(now + STEP * 3, "operator", "closed", {"outcome": "SIGNED"}, timeUncertaintyMs=0)
    lines = t.texts()
    for source, share in (("desk", 0.15), ("camera", 0.25)):
        lines = kit.drop(rng, lines, source, share)
    rules = []
    for _ in range(8):
        more = rng.choice(["", f" window: {seconds(rng, 6)}"]) + rng.choice(["", "", ' radius: "50 m"'])
        rules.append((evidence(rng)[:-1] + more + " }", rng.choice(UNLESS) + rng.choice(WHILE)))
    return lines, kit.procedure(rules, PHASES), ""


def readings(rng, t, source, signal, value, now, end, step, **stamp):
    """Readings of one signal, with a hole here and there, some of them not good."""
    hole, stop = (rng.uniform(now, end), rng.choice([0, 0, 2.5, 6])), rng.choice([end, end, end - 12])
    while now < stop:
        if not hole[0] <= now < hole[0] + hole[1]:
            t.put(round(now, 3), source, "sample", {"signal": signal, "value": value(now)}, **stamp,
                  **({"quality": "SUSPECT"} if rng.random() < 0.01 else {}))
        now += step


def limits_family(rng, kit):
    """Volts, pulls and tilts in stays of a phase, each reading for itself or lasting, on a clock of their own or not."""
    t = kit.start(rng, "limits", timeUncertaintyMs=0)
    now = said(rng, t, rng.randint(3, 6), [("desk", {"timeUncertaintyMs": 0})], MARKS)
    t.put(STEP, "desk", "scene", {"set": True}, timeUncertaintyMs=0)
    t.put(now + STEP * 2, "operator", "closed", {"outcome": "SIGNED"}, timeUncertaintyMs=0)
    own = rng.choice([{}, {}, {"clock": "cell", "timeUncertaintyMs": rng.choice([0, 400, 2000, None])}])
    level, dips = rng.choice([11.02, 11.3, 12.0]), sorted((rng.uniform(0, now), rng.choice([-0.5, -1.2, 3.5])) for _ in range(2))
    volts = lambda when: round(level + sum(d for at, d in dips if at <= when < at + 2.5), 3)
    readings(rng, t, "clamp", "clamp.volts", volts, 0.5, now + STEP * 2, rng.choice([0.5, 1.0, 1.5]), **own)
    if rng.random() < 0.5:
        tilt = rng.choice([4, 11])
        for when in sorted(rng.sample(range(1, now), 2)):
            t.put(when + 0.3, "deck", "deck", {"moving": False, "tiltDeg": tilt + rng.choice([0, 3])})
        t.op(2, "rigging", on=True, point="front_eye", gear=[rng.choice(["soft", "none"])], legsAngleDeg=rng.choice([0, 60]))
        if rng.random() < 0.4:
            t.op(now - 2.5, "rigging", on=True, point="front_eye", gear=["weak"], legsAngleDeg=60)
        readings(rng, t, "line", "line.pull", lambda when: rng.choice([2300, 5100, 6900]), 0.7, now, 1.0)
    rules = []
    for _ in range(6):
        sustained = rng.choice(["", ' sustained: "1 s"', ' sustained: "1 s"', ' sustained: "3 s"'])
        bound = rng.choice(['at_least: "11 V"', 'at_least: "vehicle.boost_min or 11.3 V"', 'at_most: "vehicle.boost_max or 14 V"', 'under: "12 V"',
                            'at_most: "vehicle.boost_max"'])
        form = f'limit_in_phase {{ phase: "{rng.choice(["set", "woke", "stay"])}" quantity: "clamp.volts" {bound}{sustained} longest_gap: "{rng.choice([1, 2, 5])} s" }}'
        if rng.random() < 0.35:
            bound = rng.choice(['at_most: "line.rating"', 'under: "line.free_roll"', 'at_most: "5 kN"', 'under: "line.rating"'])
            form = f'limit_in_phase {{ phase: "{rng.choice(["set", "woke"])}" quantity: "line.pull" {bound}{sustained} longest_gap: "5 s" }}'
        rules.append((form, rng.choice(UNLESS) + rng.choice(WHILE)))
    told_by_readings = rng.choice(["line.pulling.on", "line.pulling.off", "clamp.connected.on"])
    rules.append(('count_limit { phase: "%s" event: "%s" exactly: 1 }' % (rng.choice(["job", "set"]), told_by_readings), rng.choice(WHILE)))
    gear = "".join(f'gear {{ id: "{name}" kind: SOFT_SHACKLE wll: "{wll} kg" in_service: "2025-01-10" inspect_by: "2027-01-10" }}\n'
                   for name, wll in (("soft", 700), ("weak", 520)))
    register = SENSOR % ("v", "clamp.volts", rng.choice(["0 V", "50 mV", "1 %"]), rng.choice(["200 ms", "1 s", "5 s"])) + \
        SENSOR % ("p", "line.pull", "30 N", "200 ms") + gear + rng.choice([CAR, CAR, 'vehicle { id: "car" mass: "1640 kg" }\n', ""])
    lines = t.texts()
    for source, share in (("desk", 0.15), ("clamp", 0.1), ("operator", 0.1)):
        lines = kit.drop(rng, lines, source, share)
    phases = PHASES.replace(' longest: "1 h"', rng.choice(["", ' longest: "10 s"', ' longest: "2 min"', ' longest: "1 h"']))
    return lines, kit.procedure(rules, phases), register


def claims_family(rng, kit):
    """A word beside what an instrument or another person shows, and two instruments beside each other."""
    t = kit.start(rng, "claims", timeUncertaintyMs=0)
    now, on = 2 * STEP, False
    own = rng.choice([{}, {}, {"clock": "clamp", "timeUncertaintyMs": rng.choice([0, 2000, None])}])
    falls = []
    for _ in range(rng.randint(2, 5)):
        on = not on
        t.put(now, rng.choice(["desk", "desk", "probe"]), "clamp", {"lead": "NEGATIVE", "on": on, "at": "VEHICLE", "point": "TERMINALS"},
              timeUncertaintyMs=0)
        falls.append((now + rng.choice([-9, -6, -3, -2, 0, 1, 3, 4, 6]), on))
        if rng.random() < 0.4:
            t.put(now + rng.choice([0, 3, 6]), "gps.truck", "truckMotion", {"moving": rng.random() < 0.5})
        if rng.random() < 0.4:
            t.put(now + rng.choice([-3, 0, 3]), "operator", "scene", {"set": rng.random() < 0.6})
        if rng.random() < 0.3:
            t.put(now + rng.choice([-6, 0, 2]), rng.choice(["desk", "panel"]), "arrived", {})
        now += STEP * rng.randint(3, 8)
    t.put(STEP, "desk", "screen", {"awake": True}, timeUncertaintyMs=0)
    if rng.random() < 0.5:
        t.put(now - STEP * 4, "desk", "screen", {"awake": False}, timeUncertaintyMs=0)
    if rng.random() < 0.85:
        t.put(now + STEP * rng.randint(0, 3), "operator", "closed", {"outcome": "SIGNED"}, timeUncertaintyMs=0)
    volts = lambda when: 12.6 if not falls or [up for at, up in falls if at <= when][-1:] == [True] else rng.choice([11.8, 12.4])
    if rng.random() < 0.9:
        readings(rng, t, "clamp", "clamp.volts", volts, 0.5, now + 5, rng.choice([0.5, 1.0]), **own)
    for source, base in (("gps.tag", 1.2), ("gps.truck", rng.choice([1.2, 1.6, 1.9]))):
        when, own_sd = 1.0 + rng.choice([0, 0.5]), rng.choice([0.02, 0.1])
        hole = (rng.uniform(0, now), rng.choice([0, 0, 5]))
        while when < now:
            if not hole[0] <= when < hole[0] + hole[1]:
                t.put(when, source, "fix", {"latDeg": 44.5, "lonDeg": -30, "speedMps": round(base + rng.uniform(-0.05, 0.05), 3), "hSdM": 2.5,
                                            "speedSdMps": own_sd, "mode": 3})
            when += rng.choice([1.0, 2.0])
    t.op(1, "isolation", metres=rng.choice([10, 15, 20]), barrier=False)
    rules = []
    for _ in range(6):
        phase = rng.choice(["job", "job", "set", "woke"])
        claim = rng.choice(["clamp.negative.off", "clamp.negative.off", "clamp.negative.on", "scene.set.on", "truck.moving.on", "arrived"])
        against = rng.choice(["clamp.volts", "clamp.volts", "scene.set.off", "truck.moving.on", "arrived", "truck.speed", "isolation.distance"])
        form = f'sources_agree {{ phase: "{phase}" claim: "{claim}" with: "{against}" within: {seconds(rng, 3)} }}'
        if claim == against or rng.random() < 0.3:
            form = f'sources_agree {{ phase: "{phase}" quantity: "vehicle.speed" with: "truck.speed" within: "{rng.choice(["0.5 m/s", "2 km/h"])}" }}'
        rules.append((form, rng.choice(UNLESS) + rng.choice(WHILE)))
    rules += rules_of(rng, 2)
    sensor = SENSOR % ("v", "clamp.volts", rng.choice(["0 V", "50 mV", "1 %"]), "500 ms") if rng.random() < 0.8 else ""
    sensor = sensor.replace("2027", rng.choice(["2027", "2027", "2025"]))  # out of date
    lines = t.texts()
    for source, share in (("desk", 0.15), ("operator", 0.2), ("clamp", 0.1)):
        lines = kit.drop(rng, lines, source, share)
    return lines, kit.procedure(rules, PHASES), sensor


def strengths_family(rng, kit):
    """Straps and rigging in stays that people or the truck's receiver tell, on clocks of their own, in lines that may be lost."""
    t = kit.start(rng, "strengths", rng.choice([kit.BASE, kit.MIDNIGHT]), timeUncertaintyMs=0,
                  **rng.choice([{}, {"massKg": 2400, "massSdKg": rng.choice([0, 60])}]))
    now = said(rng, t, rng.randint(3, 6), [("desk", {"timeUncertaintyMs": 0})], MARKS)
    trucks(rng, t, now)
    own = rng.choice([{}, {}, {"clock": "panel", "timeUncertaintyMs": rng.choice([0, 3000, None])}])
    whens = sorted(rng.sample(range(STEP, now, STEP), min(6, now // STEP - 1)))
    tied, rigged = set(), False
    for when in whens:
        if rng.random() < 0.6:
            wheel = rng.choice(["LF", "RF", "LR", "RR"])
            t.put(when, "panel", "tiedown", {"on": wheel not in tied, "gear": "strap-" + wheel, "wheel": wheel,
                                             "path": "ACROSS" if wheel[0] == "L" else "DIRECT"}, **own)
            tied ^= {wheel}
        else:
            rigged = not rigged
            t.put(when, "panel", "rigging", {"on": rigged, "point": "front_eye", "gear": [rng.choice(["soft", "weak", "bare"])]}, **own)
    if rng.random() < 0.85:
        t.put(now + STEP * 3, "operator", "closed", {"outcome": "SIGNED"}, timeUncertaintyMs=0)
    rules = []
    for _ in range(5):
        form = 'enough_strength { phase: "%s" of: "%s" times_mass: "%s"%s }' % (
            rng.choice(["set", "woke", "stay", "driving"]), rng.choice(["tiedowns", "tiedowns", "rigging"]),
            rng.choice(["0.5", "0.25", "1", "0.333"]), rng.choice(["", " least_count: 1", " least_count: 2"]))
        rules.append((form, rng.choice(UNLESS) + rng.choice(WHILE)))
    dates = 'in_service: "2025-01-10" inspect_by: "2026-04-07"'
    gear = "".join(f'gear {{ id: "strap-{wheel}" kind: WEBBING width: "50 mm" {wll} {dates} }}\n'
                   for wheel, wll in (("LF", 'wll: "600 kg"'), ("RF", 'wll: "820 kg"'), ("LR", ""), ("RR", 'wll: "1640 kg"')))
    gear += "".join(f'gear {{ id: "{name}" kind: SOFT_SHACKLE wll: "{wll} kg" {dates} }}\n' for name, wll in (("soft", 1640), ("weak", 520)))
    rules_word = rng.choice(["", "", "us-49cfr", "en12195-2010"])
    register = gear + rng.choice([CAR, CAR, ""]) + (f'base {{ id: "base" rules: "{rules_word}" }}\n' if rules_word else "")
    lines = t.texts()
    for source, share in (("desk", 0.15), ("panel", 0.2), ("gps.truck", 0.1)):
        lines = kit.drop(rng, lines, source, share)
    phases = PHASES + 'phase { id: "driving" opens: "truck.moving.on" closes: "truck.moving.off" longest: "4 h" }\n'
    return lines, kit.procedure(rules, phases), register


def clear_family(rng, kit):
    """A truck that moves clear, or further, or faster, while the scene is set; and checks by the way it drives."""
    t = kit.start(rng, "clear")
    t.put(0.5, "gps.truck", "truckMotion", {"moving": False})
    now, speeds = 4 * STEP, []
    for _ in range(rng.randint(1, 3)):
        length, speed = STEP * rng.randint(2, 14), rng.choice([1.0, 2.5, 2.7, 2.778, 4.0])
        speeds.append((now, now + length, speed))
        t.put(now, "gps.truck", "truckMotion", {"moving": True})
        t.put(now + length, "gps.truck", "truckMotion", {"moving": False})
        now += length + STEP * rng.randint(2, 8)
    states = [(rng.choice([STEP, 2 * STEP]), True), (now - STEP * rng.randint(0, 12), False)]
    for when, on in states:
        t.put(when, "desk", "scene", {"set": on})
    for when in rng.sample(range(STEP, now, STEP), 3):
        kind, content = rng.choice([("secured", {"checked": True}), ("arrived", {}), ("screen", {"awake": rng.random() < 0.6}), ("note", {"text": "-"})])
        t.put(when + 1, "desk", kind, content)
    hole, sd, step = (rng.uniform(0, now), rng.choice([0, 0, 4, 12])), rng.choice([0.0, 0.1, 0.1]), rng.choice([1.0, 2.0])
    when = 1.0 + rng.choice([0, 0.4])
    while rng.random() < 0.999 and when < now + 6:
        if not hole[0] <= when < hole[0] + hole[1]:
            speed = next((v for a, b, v in speeds if a <= when < b), 0.0)
            t.put(when, "gps.truck", "fix", {"latDeg": 44.5, "lonDeg": -30, "speedMps": speed, "hSdM": 2.0, "speedSdMps": sd, "mode": 3})
        when = round(when + step, 3)
    if rng.random() < 0.85:
        t.put(now + 4 * STEP, "operator", "closed", {"outcome": "SIGNED"})
    clear = rng.choice(["", ' move_clear: "100 m under 10 km/h"', ' move_clear: "40 m under 10 km/h"', ' move_clear: "100 m under 4 m/s"'])
    ways = lambda first: rng.choice(["", f' {first}distance: "{rng.choice([20, 50, 120])} m"'])
    rules = [(f'never_together {{ state: "scene.set" with: "truck.moving" tolerate: {seconds(rng, 3)}{clear} }}', rng.choice(UNLESS) + rng.choice(WHILE))
             for _ in range(3)]
    for _ in range(4):
        times = rng.choice(["", f' time: "{STEP * rng.randint(1, 15)} s"', f' first_time: "{STEP * rng.randint(1, 15)} s"'])
        some = ways("") + ways("first_") + times or ' distance: "60 m"'
        rules.append(('recheck_every { phase: "%s" check: "%s"%s%s }' % (rng.choice(["set", "woke"]), rng.choice(MOMENTS), some,
                                                                     rng.choice(["", " parked_counts: true"])), rng.choice(UNLESS) + rng.choice(WHILE)))
    lines = t.texts()
    for source, share in (("desk", 0.15), ("gps.truck", 0.1)):
        lines = kit.drop(rng, lines, source, share)
    return lines, kit.procedure(rules, PHASES), ""


# The naive evaluator knows the first; the pins alone hold the program to what it said of the others.
PINNED_ONLY = (two_clocks_family, panel_family, running_family, restless_family, pictures_family, limits_family, claims_family,
               strengths_family, clear_family)
FAMILIES = (words_family, words_family, words_family) + PINNED_ONLY
