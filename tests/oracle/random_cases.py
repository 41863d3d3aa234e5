"""Small random jobs with a random procedure, for holding the program against the naive evaluator.

Each family keeps to ground where the written semantics leave no choice: changes last longer than
500 ms, samples sit on whole tenths, taps are 6 s apart unless the family is about bursts.
"""

import hashlib
import json
import os
import random
import sys

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "traces"))
import random_forms  # noqa: E402
import random_lines  # noqa: E402
import random_more  # noqa: E402
import random_ways  # noqa: E402
import trace_kit  # noqa: E402
from trace_kit import Trace  # noqa: E402

BASE = "2026-04-07T06:00:00Z"
ORIGIN = 'origin { text: "random" standing: PRACTICE }'


def procedure(rules, phases=""):
    text = f'id: "random" version: "1.0" title: "random"\n{phases}'
    for i, (form, more) in enumerate(rules):
        text += f'rule {{ id: "r{i}" title: "r{i}" {ORIGIN} {more}\n  {form} }}\n'
    return text


def start(rng, name, base=BASE, timeUncertaintyMs=None, **more):
    t = Trace(name, base, bursts=True)
    opened = {"procedures": ["random"], "vehicle": "car", "truck": "truck-1", "operator": "card-1", **more}
    t.put(0, "operator", "opened", opened, timeUncertaintyMs=timeUncertaintyMs)
    return t


def drop(rng, lines, source, share):
    """With probability `share`, one line of the source never arrives: a known gap."""
    own = [i for i, line in enumerate(lines) if f'"source":"{source}"' in line and '"opened"' not in line
           and '"closed"' not in line]
    if len(own) > 2 and rng.random() < share:
        del lines[rng.choice(own[1:-1])]
    return lines


def lost_lines(lines):
    """Sources of which numbers are missing."""
    seqs = {}
    for row in map(json.loads, lines):
        seqs.setdefault(row["source"], set()).add(row["seq"])
    return sorted(source for source, found in seqs.items() if max(found) - min(found) + 1 != len(found))


def taps(rng, count, first=6.0, least=6.0, most=40.0):
    now, out = first, []
    for _ in range(count):
        out.append(round(now, 1))
        now += rng.uniform(least, most)
    return out


def order_family(rng, name):
    t = start(rng, name)
    source = rng.choice(["operator", "clamp"])
    count = rng.randint(4, 9)
    whens = taps(rng, count)
    state = {"POSITIVE": False, "NEGATIVE": False}
    for when in whens:
        lead = rng.choice(["POSITIVE", "NEGATIVE"])
        state[lead] = not state[lead]
        t.put(when, source, "clamp", {"lead": lead, "on": state[lead], "at": "VEHICLE", "point": "TERMINALS"})
    if rng.random() < 0.5:
        t.op(round(rng.uniform(3, whens[-1]), 1) + 0.05, "driveReady", confirmed=True)
    t.op(whens[-1] + 30, "closed", outcome="SIGNED")
    gap = ' min_gap: "%d s"' % rng.randint(1, 20) if rng.random() < 0.3 else ""
    rules = [('comes_first { first: "clamp.negative.off" then: "clamp.positive.off"%s }' % gap, ""),
             ('comes_first { first: "clamp.positive.on" then: "clamp.negative.on"%s }' % gap, ""),
             ('comes_first { first: "drive.ready.on" then: "clamp.negative.off" }', rng.choice(["", 'unless: "abandoned"']))]
    return drop(rng, t.texts(), source, 0.3), procedure(rules), ""


def clock_family(rng, name):
    t = Trace(name, BASE, bursts=True)
    t.put(0, "operator", "opened", {"procedures": ["random"], "vehicle": "car", "truck": "truck-1", "operator": "card-1"},
          timeUncertaintyMs=0)
    ua, ub = rng.choice([0, 100, 2000, 5000]), rng.choice([0, 100, 2000, 5000])
    when = rng.uniform(60, 70)
    apart = rng.uniform(-9, 9)
    for source, lead, off, u in (("probe.a", "NEGATIVE", when, ua), ("probe.b", "POSITIVE", when + apart, ub)):
        stamp = {"clock": rng.choice([source, "truck"]), "timeUncertaintyMs": u}
        t.put(20 + 10 * (lead == "POSITIVE"), source, "clamp", {"lead": lead, "on": True, "at": "VEHICLE", "point": "TERMINALS"},
              **stamp)
        t.put(round(off, 3), source, "clamp", {"lead": lead, "on": False, "at": "VEHICLE", "point": "TERMINALS"}, **stamp)
    t.put(200, "operator", "closed", {"outcome": "SIGNED"}, timeUncertaintyMs=0)
    return t.texts(), procedure([('comes_first { first: "clamp.negative.off" then: "clamp.positive.off" }', "")]), ""


def photo_family(rng, name):
    t = start(rng, name)
    views = ["front", "rear", "left", "right"]
    whens = taps(rng, 7)
    for when in whens:
        what = rng.random()
        if what < 0.08:
            t.op(when, "film", sha256=hashlib.sha256(b"f").hexdigest(), mediaType="video/mp4", when=rng.choice(["BEFORE", "AFTER"]))
        elif what < 0.85:
            view = views.pop() if views else "roof"
            t.op(when, "photo", view=view, when=rng.choice(["BEFORE"] * 4 + ["AFTER"]),
                 sha256=hashlib.sha256(view.encode()).hexdigest(), mediaType="image/jpeg")
        else:
            t.op(when, "note", text="nothing")
    if rng.random() < 0.85:
        t.put(round(rng.uniform(10, whens[-1] + 5), 1) + 0.05, "desk", "rigging",
              {"on": True, "point": "front_eye", "gear": ["soft"]})
    t.op(whens[-1] + 30, "closed", outcome="SIGNED")
    items = " ".join(f'item: "photo.before:{v}"' for v in ("front", "rear", "left", "right"))
    rules = [(f'evidence_present {{ {items} at_least: {rng.randint(1, 4)} before: "first_touch" }}', ""),
             (f'evidence_present {{ {items.replace("before", "after")} at_least: 1 after: "rigging.on" }}', "")]
    return drop(rng, t.texts(), "operator", 0.3), procedure(rules), ""


ROLLING = 'phase { id: "rolling" opens: "rolling.on" closes: "rolling.off" longest: "%s" }\n'


def speed_family(rng, name):
    t = start(rng, name)
    on = round(rng.uniform(6, 15), 1)
    off = round(on + rng.uniform(8, 40), 1)
    t.op(on, "vehicleMode", mode="ROLLING")
    t.op(off, "vehicleMode", mode="PARKED")
    dt = rng.choice([0.1, 0.5, 1.0, 1.0, 2.0])
    speed = rng.choice([0.6, 1.0, 1.2, 1.35, 1.5])
    burst = (round(rng.uniform(on, off), 1), rng.uniform(0, 5)) if rng.random() < 0.6 else (0, 0)
    hole = (round(rng.uniform(on, off), 1), rng.choice([1.5, 2.5, 4.5, 8])) if rng.random() < 0.4 else (0, 0)
    sd = rng.choice([0.02, 0.05, 0.1])
    now = 1.0
    while now < off + 10:
        if not hole[0] <= now < hole[0] + hole[1]:
            value = speed + rng.uniform(-0.05, 0.05) + (0.7 if burst[0] <= now < burst[0] + burst[1] else 0)
            row = {"latDeg": 44.5, "lonDeg": -30, "speedMps": round(value, 3), "hSdM": 2.5, "speedSdMps": sd, "mode": 3}
            t.put(now, "gps.tag", "fix", row, **({"quality": "SUSPECT"} if rng.random() < 0.01 else {}))
        now = round(now + dt, 3)
    t.op(off + 12, "closed", outcome="SIGNED")
    word = rng.choice(["under", "at_most"])
    form = (f'limit_in_phase {{ phase: "rolling" quantity: "vehicle.speed" {word}: "{rng.choice(["5 km/h", "1.389 m/s", "6 km/h"])}" '
            f'sustained: "{rng.choice(["1 s", "2 s", "500 ms"])}" longest_gap: "3 s" }}')
    return drop(rng, t.texts(), "gps.tag", 0.2), procedure([(form, "")], ROLLING % rng.choice(["5 min", "1 min", "30 min"])), ""


def pull_family(rng, name):
    t = start(rng, name)
    t.op(6, "rigging", on=True, point="front_eye", gear=["soft"], legsAngleDeg=60)
    on = round(rng.uniform(20, 30), 1)
    off = round(on + rng.uniform(10, 40), 1)
    end = off + 20
    level, peak = rng.uniform(2000, 9000), rng.uniform(3000, 12000)
    high = (round(rng.uniform(on, off), 1), rng.choice([0.4, 1.0, 3.0, 6.0]))
    now = 0.5
    while now < end:
        pull = 60.0
        if on <= now < off:
            pull = peak if high[0] <= now < high[0] + high[1] else level
        t.sample(now, "line", "line.pull", round(pull + rng.uniform(-20, 20)))
        now = round(now + 0.5, 3)
    t.op(end, "closed", outcome="SIGNED")
    register = ('sensor { id: "cell" channel: "line.pull" sd: "%s" tau: "%s" certificate: "C" valid_until: "2027-12-31" }\n'
                'truck { id: "truck-1" winch { line_speed: "10 m/min" line_rating: "%s" layer { number: 1 pull: "36 kN" length: "30 m" } } }\n'
                'gear { id: "soft" kind: SOFT_SHACKLE wll: "%d kg" in_service: "2025-01-10" inspect_by: "2027-01-10" }\n'
                % (rng.choice(["30 N", "1 %", "1 % + 20 N"]), rng.choice(["50 ms", "200 ms", "1 s"]),
                   rng.choice(["6 kN", "8.5 kN", "17.8 kN"]), rng.choice([700, 1500])))
    form = (f'limit_in_phase {{ phase: "pulling" quantity: "line.pull" at_most: "{rng.choice(["line.rating", "7 kN", "9 kN"])}" '
            f'sustained: "{rng.choice(["1 s", "2 s"])}" longest_gap: "5 s" }}')
    phases = 'phase { id: "pulling" opens: "line.pulling.on" closes: "line.pulling.off" longest: "5 min" }\n'
    return drop(rng, t.texts(), "line", 0.2), procedure([(form, "")], phases), register


def total_family(rng, name):
    t = start(rng, name)
    sd = rng.choice(["50 mm", "86 mm", "0.3 m"])
    now, out = 1.0, 60.0

    def sample_until(stop, pull, out_to):
        nonlocal now, out
        begin, first = now, out
        while now < stop - 1e-9:
            out = first + (out_to - first) * (now - begin) / (stop - begin)
            t.sample(now, "line", "line.pull", pull)
            t.sample(now, "line", "line.out", round(out, 3))
            now = round(now + 1.0, 3)
        out = out_to

    t.op(6, "rigging", on=True, point="front_eye", gear=["soft"])
    for _ in range(rng.randint(1, 3)):
        sample_until(now + 8, 60, out)
        t.op(now - 1, "vehicleMode", mode="ROLLING")
        sample_until(now + 4, 900, out)
        for _ in range(rng.randint(1, 2)):
            metres = rng.choice([-1, -1, 1]) * rng.uniform(1.5, 7)
            sample_until(now + round(abs(metres) / 0.3), 2500, out + metres)
            sample_until(now + 4, 900, out)
        t.op(now, "vehicleMode", mode="PARKED")
        sample_until(now + 6, 60, out)
        if rng.random() < 0.4:
            t.op(now, "rigging", on=False, point="front_eye", gear=["soft"])
            sample_until(now + 7, 60, out)
            if rng.random() < 0.5:
                t.put(now - 1, "gps.truck", "truckMotion", {"moving": True})
                sample_until(now + rng.choice([12, 29, 31, 45]), 60, out)
                t.put(now - 1, "gps.truck", "truckMotion", {"moving": False})
            t.op(now, "rigging", on=True, point="front_eye", gear=["soft"])
            sample_until(now + 7, 60, out)
    t.op(now + 1, "closed", outcome="SIGNED")
    register = ('sensor { id: "rope" channel: "line.out" sd: "%s" certificate: "C" valid_until: "2027-12-31" }\n'
                'truck { id: "truck-1" winch { line_speed: "20 m/min" line_rating: "17.8 kN" } }\n' % sd)
    per = rng.choice(["HANDLING", "HANDLING", "JOB", "VISIT"])
    form = (f'total_in_phase {{ phase: "rolling" quantity: "vehicle.rolled" {rng.choice(["under", "at_most"])}: "10 m" '
            f'per: {per} longest_gap: "3 s" }}')
    return t.texts(), procedure([(form, "")], ROLLING % "5 min"), register


STRAPS = ["s1", "s2", "s3", "s4", "s5", "s6", "s7", "s8", "s9"]
MIDNIGHT = "2026-04-07T23:58:00Z"  # Gear whose last day it is runs out on the road.


def strength_family(rng, name):
    known = rng.random() < 0.7
    more = {"massKg": rng.choice([1500, 2400.5, 4700]), "massSdKg": rng.choice([0, 20, 97.3])} if known else {}
    t = start(rng, name, rng.choice([BASE, MIDNIGHT]), **more)
    t.put(1, "gps.truck", "truckMotion", {"moving": False})
    whens = taps(rng, 8, 10, 6, 30)
    tied = {}
    for when in whens:
        wheel = rng.choice(["LF", "RF", "LR", "RR"])
        on = wheel not in tied
        if on:
            tied[wheel] = (rng.choice(STRAPS) + "-" + wheel, rng.choice(["DIRECT", "SAME_SIDE", "ACROSS"]))
        gear, path = tied[wheel]
        anchored = {"anchorGear": rng.choice(["a1", "a2"])} if gear.startswith("s8") else {}
        t.op(when, "tiedown", on=on, gear=gear, wheel=wheel, path=path, **anchored)
        if not on:
            del tied[wheel]
    moves = sorted(round(rng.uniform(20, whens[-1] + 30), 1) + 0.05 for _ in range(4))
    for i, when in enumerate(moves):
        if i == 0 or when - moves[i - 1] > 1:
            t.put(when, "gps.truck", "truckMotion", {"moving": i % 2 == 0})
    t.op(max(whens[-1], moves[-1]) + 20, "closed", outcome="SIGNED")
    dates = 'in_service: "2025-01-10" inspect_by: "2027-01-10" '
    register = 'vehicle { id: "car" mass: "1640 kg" mass_sd: "25 kg" }\n' if rng.random() < 0.8 else ""
    for wheel in ("LF", "RF", "LR", "RR"):
        register += f'gear {{ id: "s1-{wheel}" kind: WEBBING width: "50 mm" wll: "600 kg" {dates}}}\n'
        register += f'gear {{ id: "s2-{wheel}" kind: WEBBING width: "50 mm" wll: "1512 kg" anchor_wll: "900 kg" {dates}}}\n'
        register += f'gear {{ id: "s3-{wheel}" kind: WEBBING width: "50 mm" {dates}}}\n'
        register += f'gear {{ id: "s4-{wheel}" kind: WEBBING width: "80 mm" {dates}}}\n'
        register += f'gear {{ id: "s5-{wheel}" kind: WEBBING width: "50 mm" wll: "900 kg" in_service: "2020-01-10" inspect_by: "2022-01-10" }}\n'
        register += f'gear {{ id: "s6-{wheel}" kind: WEBBING width: "50 mm" wll: "900 kg" defect: "knot" {dates}}}\n'
        register += f'gear {{ id: "s7-{wheel}" kind: WEBBING width: "50 mm" wll: "900 kg" defect: "scuffed" {dates}}}\n'
        register += f'gear {{ id: "s8-{wheel}" kind: WEBBING width: "50 mm" wll: "900 kg" {dates}}}\n'
        register += f'gear {{ id: "s9-{wheel}" kind: WEBBING width: "50 mm" wll: "900 kg" in_service: "2020-01-10" inspect_by: "2026-04-07" }}\n'
    register += f'gear {{ id: "a1" kind: ANCHOR wll: "700 kg" {dates}}}\n'
    register += 'gear { id: "a2" kind: ANCHOR wll: "2000 kg" inspect_by: "2022-01-10" }\n'
    rules = rng.choice(["", "", "", "us-49cfr", "ca-nsc10", "en12195-2010"])
    register += f'base {{ id: "base" rules: "{rules}" }}\n' if rules else ""
    form = ('enough_strength { phase: "driving" of: "tiedowns" times_mass: "%s"%s }'
            % (rng.choice(["0.5", "0.25", "1"]), " least_count: %d" % rng.randint(1, 4) if rng.random() < 0.5 else ""))
    phases = 'phase { id: "driving" opens: "truck.moving.on" closes: "truck.moving.off" longest: "4 h" }\n'
    return drop(rng, t.texts(), "operator", 0.25), procedure([(form, "")], phases), register


def burst_family(rng, name):
    """Three taps in a few seconds cannot prove an order; two can."""
    t = start(rng, name)
    for when, lead in ((20, "POSITIVE"), (30, "NEGATIVE")):
        t.op(when, "clamp", lead=lead, on=True, at="VEHICLE", point="TERMINALS")
    first, second = rng.sample(["POSITIVE", "NEGATIVE"], 2)
    step = rng.choice([1.0, 1.5, 2.0, 4.0])
    t.op(60, "clamp", lead=first, on=False, at="VEHICLE", point="TERMINALS")
    t.op(60 + step, "clamp", lead=second, on=False, at="VEHICLE", point="TERMINALS")
    if rng.random() < 0.6:
        t.op(60 + 2 * step, "note", text="clamps off")
    t.op(100, "closed", outcome="SIGNED")
    return t.texts(), procedure([('comes_first { first: "clamp.negative.off" then: "clamp.positive.off" }', "")]), ""


def boost_family(rng, name):
    """States with dips, holes and repeats: stays_until, wait_between, follows_within, never_together, counts, sets."""
    t = start(rng, name)
    whens = taps(rng, rng.randint(6, 12))
    on = False
    for when in whens:
        what = rng.random()
        if what < 0.45:
            on = not on
            t.op(when, "scene", set=on)
        elif what < 0.7:
            t.op(when, "screen", awake=rng.random() < 0.6)
        elif what < 0.85:
            t.op(when, "secured", checked=True)
        else:
            t.op(when, "arrived")
    if rng.random() < 0.2:
        t.op(whens[-1] + 20, "abandoned", words="left")
    else:
        t.op(whens[-1] + rng.choice([8, 30, 90]), "closed", outcome="SIGNED")
    unless = lambda: rng.choice(["", "", "", 'unless: "arrived"', 'unless: "abandoned"'])
    bounds = rng.choice(["", ' at_least: "20 s"', ' at_most: "60 s"', ' at_least: "10 s" at_most: "90 s"'])
    wait = rng.choice(["at_least", "at_most"])
    count = rng.choice(["at_most", "exactly", "at_least"])
    stays = 'stays_until { state: "scene.set" until: "%s"%s%s }' % (
        rng.choice(["screen.awake.on", "secured.checked"]), bounds, rng.choice(["", ' bridge: "10 s"', ' bridge: "25 s"']))
    follows = 'follows_within { after: "%s" then: "%s" within: "%d s" }' % (
        rng.choice(["scene.set.on", "arrived"]), rng.choice(["secured.checked", "screen.awake.on"]), rng.choice([15, 40, 90]))
    waits = 'wait_between { from: "%s" to: "%s" %s: "%d s" }' % (
        rng.choice(["scene.set.on", "arrived", "scene.set.off"]), rng.choice(["secured.checked", "screen.awake.on"]), wait,
        rng.choice([10, 30, 60]))
    counts = 'count_limit { phase: "%s" event: "%s" %s: %d }' % (
        rng.choice(["job", "set"]), rng.choice(["secured.checked", "scene.set.on", "arrived"]), count, rng.randint(1, 3))
    never = 'never_together { state: "scene.set" with: "screen.awake" tolerate: "%d s" }' % rng.choice([0, 10, 60])
    inner = ['rule { id: "i%d" %s }' % (i, form) for i, form in enumerate(rng.sample([stays, follows, waits, counts, never], 2))]
    rules = [(form, unless()) for form in (stays, follows, waits, counts)] + [(never, "")]
    rules.append(("%s { %s }" % (rng.choice(["all_of", "any_of"]), " ".join(inner)), ""))
    phases = 'phase { id: "set" opens: "scene.set.on" closes: "scene.set.off" longest: "1 h" }\n'
    return drop(rng, t.texts(), "operator", 0.35), procedure(rules, phases), ""


def while_family(rng, name):
    """The same jobs, with rules that listen only while a phase is open."""
    lines, text, register = boost_family(rng, name)
    head = 'title: "random"\n'
    text = text.replace(head, head + 'phase { id: "woke" opens: "screen.awake.on" closes: "screen.awake.off" longest: "1 h" }\n', 1)
    out = [line.replace("standing: PRACTICE }", 'standing: PRACTICE } while_phase: "%s"' % rng.choice(["set", "woke"]), 1)
           if rng.random() < 0.6 else line for line in text.split("\n")]
    return lines, "\n".join(out), register


def recheck_family(rng, name):
    t = start(rng, name)
    whens = taps(rng, 7, 10, 20, 200)
    moves = taps(rng, 5, 8.05, 20, 250)
    for i, when in enumerate(moves):
        t.put(when, "gps.truck", "truckMotion", {"moving": i % 2 == 0})
    for when in whens:
        if rng.random() < 0.6:
            t.op(when, "secured", checked=True)
        else:
            t.op(when, "scene", set=rng.random() < 0.5)
    t.op(max(whens[-1], moves[-1]) + 25, "closed", outcome="SIGNED")
    first = ' first_time: "%d s"' % rng.choice([60, 200]) if rng.random() < 0.4 else ""
    form = 'recheck_every { phase: "out" check: "secured.checked" time: "%d s"%s%s }' % (
        rng.choice([90, 150, 300]), first, rng.choice(["", " parked_counts: true"]))
    phases = 'phase { id: "out" opens: "scene.set.on" closes: "scene.set.off" longest: "4 h" }\n'
    return drop(rng, t.texts(), "operator", 0.3), procedure([(form, "")], phases), ""


def claim_family(rng, name):
    t = start(rng, name)
    off = round(rng.uniform(40, 60), 1)
    t.op(12, "clamp", lead="NEGATIVE", on=True, at="VEHICLE", point="TERMINALS")
    t.op(off, "clamp", lead="NEGATIVE", on=False, at="VEHICLE", point="TERMINALS")
    fall = round(off + rng.uniform(-9, 9), 1) if rng.random() < 0.8 else 1e9
    hole = (round(rng.uniform(30, 70), 1), rng.choice([1.5, 4, 9])) if rng.random() < 0.4 else (0, 0)
    now = 1.0
    while now < off + 30 and rng.random() > 0.001:
        if not hole[0] <= now < hole[0] + hole[1]:
            t.sample(now, "clamp", "clamp.volts", round((12.6 if now < fall else rng.choice([9.8, 12.4])) + rng.uniform(-0.01, 0.01), 3))
        now = round(now + 0.5, 3)
    t.op(off + 29, "closed", outcome="SIGNED")
    form = 'sources_agree { phase: "job" claim: "clamp.negative.off" with: "clamp.volts" within: "%d s" }' % rng.choice([2, 5])
    return t.texts(), procedure([(form, "")]), ""


def agree_family(rng, name):
    """Two receivers, equals: near each other or not, one of them silent for a while."""
    t = start(rng, name)
    on = round(rng.uniform(6, 15), 1)
    off = round(on + rng.uniform(8, 40), 1)
    t.op(on, "scene", set=True)
    t.op(off, "scene", set=False)
    apart = rng.choice([0.0, 0.3, 0.45, 0.6, 0.8])
    for source, speed in (("gps.tag", 1.2), ("gps.truck", 1.2 + rng.choice([-1, 1]) * apart)):
        hole = (round(rng.uniform(on - 5, off), 1), rng.choice([2.5, 4.5, 8])) if rng.random() < 0.3 else (0, 0)
        sd, now, dt = rng.choice([0.02, 0.05, 0.1]), 1.0 + rng.choice([0, 0.3]), rng.choice([0.5, 1.0, 2.0])
        while now < off + 12:
            if not hole[0] <= now < hole[0] + hole[1]:
                row = {"latDeg": 44.5, "lonDeg": -30, "speedMps": round(speed + rng.uniform(-0.05, 0.05), 3), "hSdM": 2.5,
                       "speedSdMps": sd, "mode": 3}
                t.put(round(now, 3), source, "fix", row)
            now += dt
    t.op(off + 9, "closed", outcome="SIGNED")
    form = f'sources_agree {{ phase: "set" quantity: "vehicle.speed" with: "truck.speed" within: "{rng.choice(["2 km/h", "0.5 m/s"])}" }}'
    limit = 'limit_in_phase { phase: "set" quantity: "vehicle.speed" under: "5 km/h" sustained: "1 s" longest_gap: "3 s" }'
    phases = 'phase { id: "set" opens: "scene.set.on" closes: "scene.set.off" longest: "5 min" }\n'
    return t.texts(), procedure([(form, ""), (limit, "")], phases), ""


def tag_clock_family(rng, name):
    """A tag with a clock of its own: unknown, or stated to so many milliseconds."""
    lines, text, register = speed_family(rng, name)
    stated = rng.choice([None, 0, 150, 400, 1200])
    out = []
    for line in lines:
        row = json.loads(line)
        if row["source"] == "gps.tag":
            row["clock"] = "tag"
            if stated is not None:
                row["timeUncertaintyMs"] = stated
        out.append(json.dumps(row, separators=(",", ":")))
    return out, text, register


def rope_speed_family(rng, name):
    """The speed by the rope counter, between any two of its readings that lie no further apart than the longest hole."""
    t = start(rng, name)
    on = round(rng.uniform(6, 15), 1)
    off = round(on + rng.uniform(8, 30), 1)
    t.op(on, "vehicleMode", mode="ROLLING")
    t.op(off, "vehicleMode", mode="PARKED")
    pace, fast = rng.choice([0.3, 0.9, 1.3, 1.6]), (round(rng.uniform(on, off), 1), rng.choice([0, 1.2, 3.0]))
    hole = (round(rng.uniform(on, off), 1), rng.choice([1.5, 4.0, 8.0])) if rng.random() < 0.4 else (0, 0)
    dt, now, out = rng.choice([0.2, 0.5, 1.0]), 1.0, 60.0
    while now < off + 10:
        if not hole[0] <= now < hole[0] + hole[1]:
            t.sample(now, "line", "line.out", round(out, 3))
            t.sample(now, "line", "line.pull", 2500 if on <= now < off else 60)
        if on <= now < off:
            out -= dt * (pace + (0.7 if fast[0] <= now < fast[0] + fast[1] else 0))
        now = round(now + dt, 3)
    t.op(off + 12, "closed", outcome="SIGNED")
    register = 'sensor { id: "rope" channel: "vehicle.speed" sd: "%s" tau: "%s" certificate: "C" valid_until: "2027-12-31" }\n' % (
        rng.choice(["20 mm/s", "50 mm/s"]), rng.choice(["200 ms", "1 s"]))
    form = (f'limit_in_phase {{ phase: "rolling" quantity: "vehicle.speed" {rng.choice(["under", "at_most"])}: "5 km/h" '
            f'sustained: "{rng.choice(["1 s", "2 s"])}" longest_gap: "3 s" }}')
    return t.texts(), procedure([(form, "")], ROLLING % "5 min"), register


SCENE = 'phase { id: "set" opens: "scene.set.on" closes: "scene.set.off" longest: "1 h" }\n'


def scenes(rng, t, end):
    """The scene set and cleared a few times, apart from all else by tenths of their own."""
    now, on = rng.uniform(1, 9), False
    while now < end:
        on = not on
        t.put(round(now) + 0.35, "desk", "scene", {"set": on})
        now += rng.uniform(4, 25)


def while_limit_family(rng, name):
    """Speeds, and pictures, that count only while the scene is set."""
    if rng.random() < 0.5:
        lines, text, register = speed_family(rng, name)
    else:
        lines, text, register = photo_family(rng, name)
    rows = [json.loads(line) for line in lines]
    t = Trace(name, BASE, bursts=True)
    base = trace_kit.base_us(BASE)
    for row in rows:
        kind = next(k for k in row if k not in ("time", "job", "source", "seq", "clock", "quality"))
        common = {"quality": row["quality"]} if "quality" in row else {}
        t.put((trace_kit.base_us(row["time"]) - base) / 1e6, row["source"], kind, row[kind], **common)
    scenes(rng, t, max(trace_kit.base_us(row["time"]) for row in rows) / 1e6 - base / 1e6 - 5)
    text = text.replace('title: "random"\n', 'title: "random"\n' + SCENE, 1).replace("standing: PRACTICE }",
                                                                                   'standing: PRACTICE } while_phase: "set"')
    return t.texts(), text, register


def desk_family(rng, name):
    """Two people speak, at the truck and at the desk; a line of the desk's is lost."""
    lines, text, register = boost_family(rng, name)
    seqs, out = {}, []
    for line in lines:
        row = json.loads(line)
        if row["source"] == "operator" and "opened" not in row and "closed" not in row and "abandoned" not in row:
            row["source"] = rng.choice(["operator", "desk"])
        row["seq"] = seqs[row["source"]] = seqs.get(row["source"], 0) + 1
        out.append(json.dumps(row, separators=(",", ":")))
    return drop(rng, out, "desk", 0.6), text, register


FAMILIES = (order_family, clock_family, photo_family, speed_family, pull_family, total_family, strength_family, burst_family,
            boost_family, boost_family, None, recheck_family, claim_family, while_family, agree_family,
            tag_clock_family, while_limit_family, desk_family)
# Some have few shapes: most of their numbers go to the families of random_more.py, as those of None do.
FEW_SHAPES, FEW = (burst_family, clock_family), 4
# Those that came later have the numbers from here on, so that the cases of the numbers below stay what they were.
LATER_FROM = 1_000_001
LATER = {LATER_FROM: (rope_speed_family, random_more.lost_clocks_family, random_more.tag_way_family),
         2_000_001: random_lines.FAMILIES, 3_000_001: random_forms.FAMILIES, 4_000_001: random_ways.FAMILIES}
# Of these the naive evaluator says nothing.
PINNED_ONLY = {family.__name__ for family in random_ways.PINNED_ONLY + random_forms.PINNED_ONLY}
# What every test run judges: that many seeds from each first one.
TESTED = {1: 10_000, **dict.fromkeys(LATER, 1_000), 3_000_001: 3_000}
# Families named here are left out.
OUT = os.environ.get("FAIRLEAD_FAMILIES_OUT", "").split(",")
FAMILIES = tuple(family for family in FAMILIES if family is None or family.__name__ not in OUT)
MORE = tuple(family for family in random_more.MORE if family.__name__ not in OUT)


def make(seed):
    rng = random.Random(seed)
    if seed >= LATER_FROM:
        families = LATER[max(first for first in LATER if first <= seed)]
        family = families[seed % len(families)]
        return family.__name__, *family(rng, f"random-{seed}" if family.__module__ == __name__ else sys.modules[__name__])
    family, turn = FAMILIES[seed % len(FAMILIES)], seed // len(FAMILIES)
    if family is None or family in FEW_SHAPES and turn % FEW:
        family = MORE[(seed + turn) % len(MORE)]
    lines, text, register = family(rng, sys.modules[__name__] if family in MORE else f"random-{seed}")
    assert all(json.loads(line) for line in lines)
    return family.__name__, lines, text, register
