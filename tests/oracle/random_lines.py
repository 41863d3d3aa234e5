"""Hostile shapes of lines, for random_cases.py: lost lines, clocks with offsets that step back, bursts, lines taken
back, lines of one instant, gear that runs out on the road.
"""

import json

MOMENTS = {"arrived": ("arrived", {}), "secured.checked": ("secured", {"checked": True}), "anchor": ("anchor", {"words": "-"}),
           "heat": ("heat", {"celsius": 20, "where": "battery"})}
STATES = {"scene.set": lambda on: ("scene", {"set": on}), "smoke": lambda on: ("smoke", {"seen": on}),
          "barrier": lambda on: ("isolation", {"barrier": on, "metres": 15}), "screen.awake": lambda on: ("screen", {"awake": on}),
          "drive.ready": lambda on: ("driveReady", {"confirmed": on}), "rigging": lambda on: ("rigging", {"on": on, "point": "eye", "gear": ["soft"]}),
          "tied": lambda on: ("tiedown", {"on": on, "gear": "strap", "wheel": "LF", "path": "DIRECT"}),
          "clamp.negative": lambda on: ("clamp", {"lead": "NEGATIVE", "on": on, "at": "VEHICLE", "point": "TERMINALS"}),
          "clamp.positive": lambda on: ("clamp", {"lead": "POSITIVE", "on": on, "at": "VEHICLE", "point": "TERMINALS"})}
UNKNOWN_AT_FIRST = ("screen.awake", "drive.ready")
PHASE = 'phase { id: "p" opens: "%s" closes: "%s" longest: "1 h" }\n'


def said(rng, t, whens, states, moments, sources=("operator",), **more):
    """Marks of some states, on and off in turn, and of some moments."""
    on = dict.fromkeys(states, False)
    for when in whens:
        name = rng.choice(states + moments)
        if name in on:
            on[name] = not on[name]
            kind, content = STATES[name](on[name])
        else:
            kind, content = MOMENTS[name]
        t.put(when, rng.choice(sources), kind, content, **more)


COUNT = ("count",)
ORDER = ("first", "follows", "wait")  # What the naive evaluator holds against the widths of unsure times.
ALL = COUNT + ORDER + ("together", "stays", "in phase")


def about(rng, states, moments, kinds):
    """Rules about these states and moments. Nothing asks for a state off first that was unknown at the opening."""
    edges = [f"{s}.{way}" for s in states for way in ("on", "off")]
    firsts = [f"{s}.on" for s in states] + [f"{s}.off" for s in states if s not in UNKNOWN_AT_FIRST]
    event = lambda: rng.choice(edges + list(moments))
    makers = {
        "count": lambda: 'count_limit { phase: "job" event: "%s" %s: %d }' % (event(), rng.choice(["at_most", "at_most", "at_least", "exactly"]), rng.randint(1, 3)),
        "few": lambda: 'count_limit { phase: "job" event: "%s" at_most: %d }' % (event(), rng.randint(0, 3)),
        "first": lambda: 'comes_first { first: "%s" then: "%s"%s }' % (rng.choice(firsts), event(), rng.choice(["", "", ' min_gap: "4 s"', " ever: true"])),
        "first on": lambda: 'comes_first { first: "%s.on" then: "%s" }' % (rng.choice(states), event()),
        "follows": lambda: 'follows_within { after: "%s" then: "%s" within: "%d s" }' % (event(), event(), rng.choice([5, 12, 40])),
        "wait": lambda: 'wait_between { from: "%s" to: "%s" %s: "%d s" }' % (event(), event(), rng.choice(["at_least", "at_most"]), rng.choice([4, 12, 30])),
        "together": lambda: 'never_together { state: "%s" with: "%s" tolerate: "%d s" }' % (*rng.sample(states, 2), rng.choice([0, 10])),
        "stays": lambda: 'stays_until { state: "%s" until: "%s" bridge: "%d s" }' % (rng.choice(states), event(), rng.choice([0, 8])),
        "in phase": lambda: 'count_limit { phase: "p" event: "%s" at_most: %d }' % (event(), rng.randint(0, 2))}
    return [makers[rng.choice(kinds)]() for _ in range(6)]


def closed(t, whens):
    t.op(max(whens) + 30, "closed", outcome="SIGNED")


def case_of(rng, kit, texts, states, moments, kinds=ALL):
    opens, closes = f"{states[0]}.on", rng.choice([f"{s}.off" for s in states[:2] if s not in UNKNOWN_AT_FIRST] + [moments[0]])
    return texts, kit.procedure([(form, "") for form in about(rng, states, moments, kinds)], PHASE % (opens, closes)), ""


def choose(rng, count=3, out=()):
    return tuple(rng.sample(sorted(set(STATES) - set(out)), count)), tuple(rng.sample(sorted(MOMENTS), 2))


def lost_family(rng, kit):
    """Two people and a box speak; lines of each are lost, at any place but the ends."""
    states, moments = choose(rng)
    t = kit.start(rng, "lost")
    whens = kit.taps(rng, rng.randint(9, 14))
    said(rng, t, whens, states, moments, ("operator", "operator", "desk"))
    closed(t, whens)
    texts = t.texts()
    for source in ("operator", "desk"):
        texts = kit.drop(rng, texts, source, 0.6)
    return case_of(rng, kit, texts, states, moments)


def box_family(rng, kit):
    """An instrument speaks of states of its own beside a person."""
    states, moments = choose(rng, 4)
    t = kit.start(rng, "box")
    whens = kit.taps(rng, rng.randint(9, 14))
    said(rng, t, whens[::2], states[:2], moments[:1])
    said(rng, t, whens[1::2], states[2:], moments[1:], ("box",))
    closed(t, whens)
    return case_of(rng, kit, t.texts(), states, moments)


def offset_family(rng, kit):
    """A clock of its own with offsets, of which the nearest holds, to fractions of a microsecond."""
    states, moments = choose(rng)
    t = kit.start(rng, "offset")
    whens = kit.taps(rng, rng.randint(8, 12), 12, 8)
    said(rng, t, whens[::2], states[:1], moments[:1])
    ahead = rng.choice([-3600, -2.5, 0.75, 4])
    stated = rng.choice([None, 0, 1500])
    said(rng, t, [round(w + ahead, 6) for w in whens[1::2]], states[1:], moments[1:], ("box",), clock="box", **({} if stated is None else {"timeUncertaintyMs": stated}))
    for when in sorted(rng.sample(range(7, round(whens[-1])), rng.randint(1, 3))):
        t.put(when + 0.05, "desk", "clockOffset", {"clock": "box", "offsetMs": round(ahead * 1000 + rng.choice([0, 0.0004, -0.0006, 350.25]), 4),
                                                   "sdMs": rng.choice([0, 0.0003, 80])})
    closed(t, whens)
    return case_of(rng, kit, t.texts(), states, moments, COUNT + ORDER)


def burst_family(rng, kit):
    """Taps in bursts, and just not: three within 5 s, to the microsecond."""
    states, moments = choose(rng)
    t = kit.start(rng, "burst")
    now, whens = 8.0, []
    for _ in range(rng.randint(3, 6)):  # Apart from each other: one burst is no part of the next.
        some = rng.choice([[0], [0, 2.5], [0, 2.5, 5], [0, 2.5, 5.000001], [0, 0.7, 1.5, 4], [0, 1.2, 2.4], [0, 5, 10]])
        whens += [round(now + later, 6) for later in some]
        now += some[-1] + rng.choice([5.1, 9, 20])
    said(rng, t, whens, states, moments)
    closed(t, whens)
    return case_of(rng, kit, t.texts(), states, moments, ("count", "first on", "follows", "wait"))


def undo_family(rng, kit):
    """Lines taken back, and the taking back taken back; numbers so lost are none."""
    states, moments = choose(rng)
    t = kit.start(rng, "undo")
    whens = kit.taps(rng, rng.randint(8, 12))
    said(rng, t, whens, states, moments, ("operator", "desk"))
    closed(t, whens)
    rows = [json.loads(text) for text in t.texts()]
    for _ in range(rng.randint(1, 3)):
        some = [row for row in rows[1:-1] if row["source"] in ("operator", "desk")]
        taken = rng.choice(some)
        at = rng.choice([i for i in range(1, len(rows) - 1)])
        by = rng.choice(["operator", "desk"])
        seq = max([row["seq"] for row in rows[:at + 1] if row["source"] == by], default=0)
        for row in rows:
            row["seq"] += row["source"] == by and row["seq"] > seq
            if row.get("undo", {}).get("source") == by and row["undo"]["seq"] > seq:
                row["undo"]["seq"] += 1
        rows.insert(at + 1, {"time": rows[at]["time"], "job": rows[0]["job"], "source": by, "seq": seq + 1, "clock": "truck",
                             "undo": {"source": taken["source"], "seq": taken["seq"]}})
    return case_of(rng, kit, [json.dumps(row, separators=(",", ":")) for row in rows], states, moments)


def instant_family(rng, kit):
    """Lines of several sources at one instant."""
    states, moments = choose(rng, 4)
    t = kit.start(rng, "instant")
    whens = kit.taps(rng, rng.randint(5, 8), 8, 7)
    said(rng, t, [rng.choice(whens) for _ in range(4)] + whens, states[:2], moments[:1], ("operator",))
    said(rng, t, [rng.choice(whens) for _ in range(5)], states[2:], moments[1:], ("box",))
    closed(t, whens)
    return case_of(rng, kit, t.texts(), states, moments, COUNT + ORDER)


def step_family(rng, kit):
    """A clock that steps back once or twice."""
    states, moments = choose(rng, out=(*UNKNOWN_AT_FIRST, "tied"))
    t = kit.start(rng, "step")
    whens = kit.taps(rng, rng.randint(8, 12))
    said(rng, t, whens, states, moments, ("box", "box", "operator"))
    closed(t, whens)
    rows = [json.loads(text) for text in t.texts()]
    own = [i for i, row in enumerate(rows) if row["source"] == "box"]
    for i in rng.sample(own[1:], min(len(own) - 1, rng.randint(1, 2))) if len(own) > 1 else []:
        before = [row for row in rows[:i] if row["source"] == "box"][-1]
        rows[i]["time"] = before["time"][:-1].split(".")[0] + rng.choice(["Z", ".000001Z"]) if rng.random() < 0.5 else before["time"]
    return case_of(rng, kit, [json.dumps(row, separators=(",", ":")) for row in rows], states, moments, ("count", "first"))


GEAR = """gear { id: "loop" kind: SOFT_LOOP wll: "600 kg" %(dates)s }
gear { id: "shackle" kind: SHACKLE wll: "1500 kg" }
gear { id: "blank" kind: HOOK }
gear { id: "due" kind: WEBBING wll: "600 kg" inspect_by: "2026-04-07" }
gear { id: "new" kind: WEBBING wll: "900 kg" in_service: "2026-04-08" }
gear { id: "knot" kind: WEBBING width: "50 mm" wll: "900 kg" defect: "knot" }
vehicle { id: "car" mass: "1500 kg" point { id: "eye" kind: TOW_EYE rating: "9 kN" } point { id: "rear" kind: TOW_EYE rating: "6 kN" }
  point { id: "slot" kind: CHAIN_SLOT } }
truck { id: "truck-1" winch { line_speed: "6 m/min"%(rating)s } }
sensor { id: "cell" channel: "line.pull" sd: "%(sd)s" certificate: "C" valid_until: "2027-12-31" }
sensor { id: "legs" channel: "rigging.legs_angle" sd: "0 deg" certificate: "C" valid_until: "2027-12-31" }
"""


def gear_family(rng, kit):
    """A pull against what the gear in the line or the points bear: several points, gear that runs out at midnight, a lost line."""
    t = kit.start(rng, "gear", rng.choice([kit.BASE, kit.MIDNIGHT]))
    now, whens, lost = 6.0, [], rng.random() < 0.35
    gear = ["loop", "shackle", "blank"] + (["due", "new", "knot", "shackle"] if not lost else [])
    for _ in range(rng.randint(1, 5)):
        whens.append(round(now, 1))
        now += rng.uniform(6, 30)
    for when in whens:
        if rng.random() < 0.2:
            t.op(when, "note", text="-")
            continue
        angle = {"legsAngleDeg": rng.choice([0, 60, 90])} if rng.random() < 0.6 else {}
        t.op(when, "rigging", on=rng.random() < 0.75, point=rng.choice(["eye", "eye", "rear", "slot"]),
             gear=rng.sample(gear, rng.randint(0, 2)), **angle)
    begin = round(whens[-1] + rng.choice([3, 125]), 1)
    end = begin + rng.choice([8, 20, 110])
    if begin < 125 and end > 115:  # Midnight, 120 s from MIDNIGHT on, in no bin: before it or after.
        begin, end = 125, 140
    pull = rng.choice([2000, 5000, 7000, 12000])
    for second in range(round(begin) - 4, round(end) + 6):
        t.sample(second, "line", "line.pull", pull + rng.randint(-20, 20))
    t.put(begin - 2.15, "desk", "scene", {"set": False})  # Known again after what was lost.
    t.put(begin + 0.35, "desk", "scene", {"set": True})
    t.put(end + 0.35, "desk", "scene", {"set": False})
    t.op(max(end, whens[-1]) + 8, "closed", outcome="SIGNED")
    quantity, limit = rng.choice([("line.pull", "line.rating"), ("line.pull", "line.rating"), ("line.leg_pull", "point.rating"), ("line.pull", "point.rating")])
    form = (f'limit_in_phase {{ phase: "set" quantity: "{quantity}" {rng.choice(["at_most", "under"])}: "{limit}" '
            f'sustained: "{rng.choice([1, 2])} s" longest_gap: "5 s" }}')
    register = GEAR % {"dates": "" if lost else rng.choice(["", 'out_of_service: "2026-04-08"', 'inspect_by: "2026-04-06"']),
                       "rating": rng.choice([' line_rating: "17.8 kN"', ' line_rating: "6 kN"']), "sd": rng.choice(["0 N", "30 N", "1 %"])}
    phases = 'phase { id: "set" opens: "scene.set.on" closes: "scene.set.off" longest: "10 min" }\n'
    return kit.drop(rng, t.texts(), "operator", lost), kit.procedure([(form, "")], phases), register


FAMILIES = (lost_family, box_family, offset_family, burst_family, undo_family, instant_family, step_family, gear_family)
