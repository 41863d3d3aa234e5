"""More families of random jobs (random_cases.py says how they are used): clocks of their own, ways driven."""

import hashlib
import json
import math

ORDER_POINTS = ("clamp.negative.on", "clamp.negative.off", "clamp.positive.on", "clamp.positive.off")


def clocks_family(rng, kit):
    """Two probes and a camera, each by a clock of its own that is known more or less well."""
    t = kit.start(rng, "clocks", timeUncertaintyMs=0)
    for source, lead in (("probe.a", "NEGATIVE"), ("probe.b", "POSITIVE")):
        stamp = {"clock": rng.choice([source, source, "truck"]), "timeUncertaintyMs": rng.choice([0, 100, 2000, 5000])}
        now, on = rng.uniform(20, 30), False
        for _ in range(rng.randint(2, 5)):
            on = not on
            t.put(round(now, 3), source, "clamp", {"lead": lead, "on": on, "at": "VEHICLE", "point": "TERMINALS"}, **stamp)
            now += rng.uniform(6, 25)
    views = ["front", "rear", "left", "right"]
    stamp = {"clock": "camera", "timeUncertaintyMs": rng.choice([0, 1000, 4000, None])}
    for when in sorted(rng.uniform(12, 60) for _ in range(rng.randint(1, 4))):
        view = views.pop()
        t.put(round(when, 3), "camera", "photo", {"view": view, "when": "BEFORE", "mediaType": "image/jpeg",
                                                  "sha256": hashlib.sha256(view.encode()).hexdigest()}, **stamp)
    t.put(200, "operator", "closed", {"outcome": "SIGNED"}, timeUncertaintyMs=0)
    first, then = rng.sample(ORDER_POINTS, 2)
    items = " ".join(f'item: "photo.before:{v}"' for v in ("front", "rear", "left", "right"))
    rules = ['comes_first { first: "%s" then: "%s"%s }' % (first, then, rng.choice(["", ' min_gap: "4 s"'])),
             'follows_within { after: "%s" then: "%s" within: "%d s" }' % (first, then, rng.choice([5, 12, 40])),
             'wait_between { from: "%s" to: "%s" %s: "%d s" }' % (*rng.sample(ORDER_POINTS, 2), rng.choice(["at_least", "at_most"]),
                                                              rng.choice([4, 12, 30])),
             f'evidence_present {{ {items} at_least: {rng.randint(1, 4)} before: "first_touch" }}',
             f'evidence_present {{ {items} at_least: {rng.randint(1, 2)} after: "clamp.positive.on" }}']
    return t.texts(), kit.procedure([(rule, "") for rule in rules]), ""


def lost_clocks_family(rng, kit):
    """The same with a line of one of them lost."""
    lines, text, register = clocks_family(rng, kit)
    return kit.drop(rng, lines, rng.choice(["probe.a", "probe.b", "camera"]), 0.8), text, register


def way_family(rng, kit):
    """Rechecks by the way driven, measured by the truck's receiver, with a hole here and there."""
    t = kit.start(rng, "way")
    begin, end = round(rng.uniform(8, 30), 1), round(rng.uniform(250, 500), 1)
    t.op(begin, "scene", set=True)
    t.put(0.4, "gps.truck", "truckMotion", {"moving": False})
    now, speed, hole = 1.0, 0.0, (rng.uniform(20, end), rng.choice([0, 0, 8, 14, 40]))
    moving, dt, sd = False, rng.choice([2.0, 5.0]), rng.choice([0.05, 0.1, 1.5])
    while now < end + 20:
        if rng.random() < 0.08:
            speed = rng.choice([0.0, 0.0, 3.0, 12.5, 22.25])
            if (speed > 0) != moving:
                moving = speed > 0
                t.put(round(now - 0.5, 3), "gps.truck", "truckMotion", {"moving": moving})
        if not hole[0] <= now < hole[0] + hole[1]:
            t.put(round(now, 3), "gps.truck", "fix", {"latDeg": 44.5, "lonDeg": -30, "speedMps": speed, "hSdM": 2.5,
                                                      "speedSdMps": sd, "mode": 3})
        now += dt
    for when in kit.taps(rng, rng.randint(1, 5), begin + 1.3, 10, end / 3):
        if when < end - 1:
            t.op(when, "secured", checked=True)
    t.op(end, "scene", set=False)
    t.op(end + 20, "closed", outcome="SIGNED")
    more = rng.choice(["", ' first_distance: "500 m"', ' first_distance: "2 km"', ' time: "150 s"', ' time: "300 s" first_time: "90 s"'])
    form = 'recheck_every { phase: "out" check: "secured.checked" distance: "%s"%s }' % (rng.choice(["800 m", "1.5 km", "4 km"]), more)
    phases = 'phase { id: "out" opens: "scene.set.on" closes: "scene.set.off" longest: "4 h" }\n'
    return kit.drop(rng, t.texts(), rng.choice(["operator", "gps.truck"]), 0.3), kit.procedure([(form, "")], phases), ""


def restated(rng, texts, way):
    """The lines with one of them taken back, said twice, or shown earlier than the one before it."""
    rows = [json.loads(text) for text in texts]
    some = [i for i, row in enumerate(rows) if "clamp" in row]
    i = rng.choice(some[1:])
    if way == "undo":
        at = rng.choice([j for j in range(i, len(rows)) if rows[j]["source"] == "operator" and "closed" not in rows[j]] or [0])
        seq = rows[at]["seq"]
        for row in rows:
            row["seq"] += row["source"] == "operator" and row["seq"] > seq
        target = {"source": rows[i]["source"], "seq": rows[i]["seq"]}
        rows.insert(at + 1, {**{k: rows[at][k] for k in ("time", "job", "source", "clock")}, "seq": seq + 1, "undo": target})
    elif way == "twice":
        rows.insert(rng.randint(1, len(rows)), rows[i])
    elif way == "step":
        before = [row for row in rows[1:i] if row["source"] == rows[i]["source"]]
        if before:
            rows[i]["time"] = before[-1]["time"][:17] + "%02dZ" % rng.randint(0, int(before[-1]["time"][17:19]))
    return [json.dumps(row, separators=(",", ":")) for row in rows]


def lines_family(rng, kit):
    """Clocks with known offsets, steps back, lines taken back or said twice."""
    way = rng.choice(["offset", "offset", "step", "undo", "twice"])
    ahead = rng.choice([-86400, -7.5, 3, 3600]) if way == "offset" else 0
    t = kit.start(rng, "lines")
    for source, lead, begin in (("operator", "NEGATIVE", 12), ("probe.a", "POSITIVE", 15.35)):
        on, own = False, {"clock": "probe"} if ahead and source == "probe.a" else {}
        for when in kit.taps(rng, rng.randint(2, 5), begin + rng.randint(0, 9)):
            on = not on
            t.put(when + (ahead if own else 0), source, "clamp", {"lead": lead, "on": on, "at": "VEHICLE", "point": "TERMINALS"}, **own)
    for when in [7, 201][:rng.randint(1, 2)] if ahead else []:
        t.op(when, "clockOffset", clock="probe", offsetMs=round(ahead * 1000 + rng.choice([0, 1500])), sdMs=rng.choice([0, 50, 2000]))
    t.op(250, "closed", outcome="SIGNED")
    first, then = rng.sample(ORDER_POINTS, 2)
    rules = ['comes_first { first: "%s" then: "%s"%s }' % (first, then, rng.choice(["", ' min_gap: "4 s"'])),
             'follows_within { after: "%s" then: "%s" within: "%d s" }' % (first, then, rng.choice([5, 12, 40])),
             'wait_between { from: "%s" to: "%s" %s: "%d s" }' % (*rng.sample(ORDER_POINTS, 2), rng.choice(["at_least", "at_most"]),
                                                              rng.choice([4, 12, 30]))]
    return restated(rng, t.texts(), way), kit.procedure([(rule, "") for rule in rules]), ""


WHEELS = ("LF", "RF", "LR", "RR")
# What a line may say, by kind, and the facts it is about.
SAID = (
    ("clamp", lambda r: {"lead": r.choice(["POSITIVE", "NEGATIVE"]), "on": r.random() < 0.6,
                         "at": "VEHICLE" if r.random() < 0.9 else "SOURCE", "point": r.choice(["TERMINALS", "TERMINALS", "LID_LEAD"])}),
    ("sourcePower", lambda r: {"on": r.random() < 0.6, "nominalVolts": 12}),
    ("wheels", lambda r: {"which": r.choice(WHEELS + ("ALL", "ALL")), "on": r.choice(["GROUND", "DECK", "DECK", "LIFT"])}),
    ("rigging", lambda r: {"on": r.random() < 0.6, "point": r.choice(["front_eye", "rear_eye"]), "gear": ["soft"]}),
    ("tiedown", lambda r: {"on": r.random() < 0.6, "gear": "strap", "wheel": r.choice(WHEELS[:2]), "path": "DIRECT"}),
    ("vehicleMode", lambda r: {"mode": r.choice(["PARKED", "ROLLING", "ROLLING", "DRIVE"])}),
    ("deck", lambda r: {"moving": r.random() < 0.5}),
    ("smoke", lambda r: {"seen": r.random() < 0.5}),
    ("isolation", lambda r: {"barrier": r.random() < 0.5, "metres": 15}),
    ("cover", lambda r: {"which": r.choice(["hv", "wheel:LF"]), "off": r.random() < 0.5}),
    ("connector", lambda r: {"event": r.choice(["IN", "OUT"])}),
    ("steering", lambda r: {"live": r.random() < 0.5}),
    ("screen", lambda r: {"awake": r.random() < 0.5}),
    ("driveReady", lambda r: {"confirmed": r.random() < 0.5}),
    ("truckMotion", lambda r: {"moving": r.random() < 0.5}),
)
FACTS = {"clamp": ("clamp.positive", "clamp.negative", "lid.positive", "boost"), "sourcePower": ("boost",),
         "wheels": ("wheels.on_deck", "wheels.on_ground", "loaded", "held_by_line_alone"),
         "rigging": ("rigging", "held_by_line_alone", "rigging"), "tiedown": ("tied", "held_by_line_alone"),
         "vehicleMode": ("mode.rolling", "mode.parked", "rolling"), "deck": ("deck.moving", "rolling"), "smoke": ("smoke",),
         "isolation": ("barrier",), "cover": ("cover.off:hv",), "connector": ("connector.in",), "steering": ("steering.live",),
         "screen": ("screen.awake",), "driveReady": ("drive.ready",), "truckMotion": ("truck.moving", "rolling")}


def facts_family(rng, kit):
    """Lines of a few kinds and rules about the facts they make, alone and together."""
    t = kit.start(rng, "facts")
    kinds = rng.sample(SAID, rng.randint(2, 4))
    for when in kit.taps(rng, rng.randint(8, 14)):
        kind, content = rng.choice(kinds)
        t.put(when, rng.choice(["operator"] * 4 + ["desk"]) if kind != "truckMotion" else "gps.truck", kind, content(rng))
    t.op(700, "closed", outcome="SIGNED")
    facts = sorted({fact for kind, _ in kinds for fact in FACTS[kind]})
    edges = [f"{fact}.{way}" for fact in facts for way in ("on", "off")] + ["first_touch"]
    one, two = rng.sample(facts + ["scene.set"] * (len(facts) < 2), 2)
    rules = ['count_limit { phase: "job" event: "%s" %s: %d }' % (rng.choice(edges[:-1]), rng.choice(["at_most", "exactly", "at_least"]),
                                                              rng.randint(1, 3)) for _ in range(4)]
    rules += ['comes_first { first: "%s.on" then: "%s" }' % (rng.choice(facts), rng.choice(edges)),
              'never_together { state: "%s" with: "%s" tolerate: "%d s" }' % (one, two, rng.choice([0, 20])),
              'stays_until { state: "%s" until: "%s" bridge: "%d s" }' % (one, rng.choice(edges[:-1]), rng.choice([0, 15]))]
    return t.texts(), kit.procedure([(rule, "") for rule in rules]), ""


def measures_family(rng, kit):
    """Limits on volts and on the pull, from below and from above, with dips, peaks and holes."""
    t = kit.start(rng, "measures")
    on, off = round(rng.uniform(9, 15), 1), round(rng.uniform(25, 50), 1)
    t.op(on, "scene", set=True)
    t.op(off, "scene", set=False)
    t.op(off + 20, "closed", outcome="SIGNED")
    signal, level, dip, places, limits = rng.choice([
        ("clamp.volts", rng.uniform(10.5, 13), rng.choice([0.9, 1.1]), 3, ["11 V", "12 V"]),
        ("line.pull", rng.uniform(2000, 12000), rng.choice([0.5, 1.5]), 0, ["4 kN", "8500 N"])])
    at, length = round(rng.uniform(on - 2, off), 1), rng.choice([0.5, 2, 5])
    hole = (round(rng.uniform(on - 2, off), 1), rng.choice([0, 0, 1.5, 4, 8]))
    now = 1.0 + rng.choice([0, 0.3])
    while now < off + 12:
        value = level * (dip if at <= now < at + length else 1) * rng.uniform(0.999, 1.001)
        if not hole[0] <= now < hole[0] + hole[1]:
            t.sample(round(now, 3), "clamp" if places else "line", signal, round(value, places))
        now += rng.choice([0.5, 1.0])
    sd = rng.choice(["1 %", "50 mV"] if places else ["30 N", "1 % + 20 N"])
    register = (f'sensor {{ id: "it" channel: "{signal}" sd: "{sd}" tau: "{rng.choice(["200 ms", "2 s"])}" certificate: "C" '
                'valid_until: "2027-12-31" }\n')
    form = (f'limit_in_phase {{ phase: "set" quantity: "{signal}" {rng.choice(["at_least", "at_least", "at_most", "under"])}: '
            f'"{rng.choice(limits)}" sustained: "{rng.choice(["1 s", "2 s", "500 ms"])}" longest_gap: "{rng.choice([2, 5])} s" }}')
    phases = 'phase { id: "set" opens: "scene.set.on" closes: "scene.set.off" longest: "%s" }\n' % rng.choice(["1 min", "10 min"])
    return t.texts(), kit.procedure([(form, "")], phases), register


def tag_way_family(rng, kit):
    """A tag that says where it goes: a pull or two, forth and back, and rests that tell of its noise more or less than it states."""
    t = kit.start(rng, "tag-way")
    if rng.random() < 0.8:
        t.put(rng.choice([0.4, 7.4]), "gps.truck", "truckMotion", {"moving": False})
    begin = round(rng.uniform(8, 40), 1)
    spans, now = [], begin
    for _ in range(rng.choice([1, 1, 2])):
        spans.append((now, round(now + rng.uniform(3, 12), 1)))
        now = round(spans[-1][1] + rng.uniform(8, 20), 1)
    for on, off in spans:
        t.op(on, "vehicleMode", mode="ROLLING")
        t.op(off, "vehicleMode", mode=rng.choice(["PARKED", "PARKED", "DRIVE"]))
    speed, sd, noise = rng.choice([0.6, 1.2, 1.35, 1.8]), rng.choice([0.02, 0.05, 0.1]), rng.choice([0.0, 0.03, 0.1, 0.3])
    heading, back = rng.uniform(0, 6.28), rng.choice([1, 1, -1])
    end, now, dt = spans[-1][1] + rng.choice([6, 15, 30]), 1.0, rng.choice([0.2, 0.5, 1.0, 2.0])
    if rng.random() < 0.3:
        t.put(end - 4.5, "gps.truck", "truckMotion", {"moving": True})
    while now < end:
        v = next((speed * (back if i else 1) for i, (on, off) in enumerate(spans) if on <= now < off), 0.0)
        east, north = (v * f(heading) + rng.gauss(0, noise) for f in (math.sin, math.cos))
        row = {"latDeg": 44.5, "lonDeg": -30, "speedMps": round(math.hypot(east, north), 2), "hSdM": 2.5, "speedSdMps": sd, "mode": 3}
        if rng.random() < 0.95:
            row["courseDeg"] = round(math.degrees(math.atan2(east, north)) % 360, 1)
        t.put(round(now, 3), "gps.tag", "fix", row, **({"quality": "SUSPECT"} if rng.random() < 0.02 else {}))
        now += dt
    t.op(end + 1, "closed", outcome="SIGNED")
    form = (f'limit_in_phase {{ phase: "rolling" quantity: "vehicle.speed" {rng.choice(["under", "at_most", "at_least"])}: '
            f'"{rng.choice(["5 km/h", "2 km/h"])}" sustained: "{rng.choice(["1 s", "2 s"])}" longest_gap: "3 s" }}')
    return kit.drop(rng, t.texts(), rng.choice(["gps.tag", "gps.truck"]), 0.15), kit.procedure([(form, "")], kit.ROLLING % "5 min"), ""


MORE = (clocks_family, way_family, lines_family, facts_family, measures_family)
