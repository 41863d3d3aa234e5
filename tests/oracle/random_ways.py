"""Ways: rolled, by the rope counter, the tag or the winch alone, and driven; for random_cases.py.

Where the tag or the winch tells of the way, the naive evaluator has nothing to say: the pins (random_pins.py) alone
hold the program to what it said (PINNED_ONLY).
"""

import math

LINE_SPEED = ' line_speed: "%s m/min"'


def winch_truck(rng, sd):
    speed = LINE_SPEED % rng.choice([12, 24]) if rng.random() < 0.7 else ""
    return ('sensor { id: "rope" channel: "line.out" sd: "%s" certificate: "C" valid_until: "2027-12-31" }\n'
            'truck { id: "truck-1" winch {%s line_rating: "17.8 kN" } }\n' % (sd, speed))


def form_of(rng, quantity, limit):
    per = rng.choice(["HANDLING", "JOB", "JOB", "VISIT"])
    gap = rng.choice(["2 s", "3 s", "3 s", "8 s"])
    return (f'total_in_phase {{ phase: "rolling" quantity: "{quantity}" {rng.choice(["under", "at_most"])}: "{limit}" '
            f'per: {per} longest_gap: "{gap}" }}')


def fastest(rng, quantity, speed):
    return f'fastest_change {{ quantity: "{quantity}" rate: "{speed}" }}\n' if rng.random() < 0.3 else ""


def pulls_of(rng):
    """[(from, until, metres)] of pulls in one or two stays of rolling, and [(from, until)] of the stays."""
    pulls, stays, now = [], [], round(rng.uniform(8, 30))
    for _ in range(rng.choice([1, 1, 2])):
        begin = now
        for _ in range(rng.choice([1, 2])):
            metres = rng.choice([-1, -1, -1, 1]) * rng.uniform(0.5, 6)
            pulls.append((now + 3, now + 3 + max(1, round(abs(metres) / 0.35)), metres))
            now = pulls[-1][1] + 3
        stays.append((begin, now))
        now += rng.choice([12, 60])
    return pulls, stays


def along(pulls, t):
    """Metres out at t, from 60."""
    return 60 + sum(m * min(1.0, max(0.0, (t - a) / (b - a))) for a, b, m in pulls)


def tell_modes(rng, t, stays, **stamp):
    for on, off in stays:
        t.put(on + 0.05, "operator", "vehicleMode", {"mode": "ROLLING"}, **stamp)
        if off != stays[-1][1] or rng.random() < 0.93:
            t.put(off + 0.05, "operator", "vehicleMode", {"mode": rng.choice(["PARKED", "PARKED", "DRIVE"])}, **stamp)


def tell_line(rng, t, pulls, end, hole, counter=True, dt=1.0):
    """The load cell, and the rope counter beside it but for the holes; the last may never end."""
    now = 1.0
    while now < end:
        pulling = any(a <= now < b for a, b, _ in pulls)
        t.sample(now, "line", "line.pull", 2500 if pulling else 60)
        if counter and not hole[0] <= now < hole[0] + hole[1]:
            t.sample(now, "line", "line.out", round(along(pulls, now), 3))
        now = round(now + dt, 3)


def tell_tag(rng, t, pulls, begin, end, still=False):
    """A tag to the north, its errors a walk that tends back, and a few fixes far off; or one that holds its speed at 0."""
    off, dt, sd = [0.0, 0.0], rng.choice([0.5, 1.0, 1.0, 2.0]), rng.choice([0.05, 0.1])
    now, last = begin, 60.0
    while now < end:
        off = [0.97 * x + rng.gauss(0, 0.5) for x in off]
        way = along(pulls, now)
        speed, last = (way - last) / dt, way
        north, east = speed + rng.gauss(0, sd), rng.gauss(0, sd)
        jump = 25 if rng.random() < 0.02 else 0
        t.put(round(now + 0.2, 3), "gps.tag", "fix", {
            "latDeg": round(44.5 + (way - 60 + off[0] + jump) / 111_122.6, 8), "lonDeg": round(-30 + off[1] / 79_529.6, 8),
            "speedMps": 0 if still else round(math.hypot(north, east), 3),
            "courseDeg": round(math.degrees(math.atan2(east, north)) % 360, 1),
            "hSdM": 2.5, "speedSdMps": sd, "mode": 3}, **({"quality": "SUSPECT"} if rng.random() < 0.02 else {}))
        now += dt


def around(rng, t, stays, end):
    """The truck drives before or after, the deck slides, the car stands on skates: none of it is rolling."""
    if rng.random() < 0.5:
        t.put(0.4, "gps.truck", "truckMotion", {"moving": rng.random() < 0.3})
        t.put(stays[0][0] - rng.choice([1.4, 4.4]), "gps.truck", "truckMotion", {"moving": False})
    if rng.random() < 0.2:
        t.put(stays[-1][1] + rng.choice([2.4, 8.4]), "gps.truck", "truckMotion", {"moving": True})
    if rng.random() < 0.3:
        at = rng.choice([stays[0][0] - 5, stays[-1][1] + 1, sum(stays[0]) / 2]) + 0.15
        t.put(at, "desk", "deck", {"moving": True})
        if rng.random() < 0.8:
            t.put(min(end - 1, at + rng.choice([2, 6])), "desk", "deck", {"moving": False})


def rope_way_family(rng, kit):
    """The counter beside operators whose clock is off, with a hole; handlings that rigging begins and ends."""
    wide = rng.choice([None, None, 0, 300, 2000])
    t = kit.start(rng, "rope-way", timeUncertaintyMs=wide)
    pulls, stays = pulls_of(rng)
    end = stays[-1][1] + rng.choice([3, 10])
    if rng.random() < 0.5:
        t.put(6, "operator", "rigging", {"on": True, "point": "front_eye", "gear": ["soft"]}, timeUncertaintyMs=wide)
        if len(stays) > 1 and rng.random() < 0.6:
            t.put(stays[0][1] + 2.5, "operator", "rigging", {"on": False, "point": "front_eye", "gear": ["soft"]}, timeUncertaintyMs=wide)
    tell_modes(rng, t, stays, timeUncertaintyMs=wide, clock="truck" if wide is None or rng.random() < 0.3 else "phone")
    hole = (rng.uniform(stays[0][0], stays[-1][1]), rng.choice([2.5, 4, 9, 200])) if rng.random() < 0.4 else (0, 0)
    tell_line(rng, t, pulls, end, hole)
    t.put(end + 1, "operator", "closed", {"outcome": "SIGNED"}, timeUncertaintyMs=wide)
    form = form_of(rng, "vehicle.rolled", rng.choice(["10 m", "4 m", "6.5 m"]))
    more = fastest(rng, "vehicle.rolled", rng.choice(["0.2 m/s", "2 m/s"]))
    return (kit.drop(rng, t.texts(), rng.choice(["operator", "operator", "line"]), 0.3),
            kit.procedure([(form, "")], more + kit.ROLLING % rng.choice(["5 min", "20 s"])), winch_truck(rng, rng.choice(["50 mm", "86 mm", "0.3 m"])))


def tag_rolled_family(rng, kit):
    """The tag, with a load cell or without, and now and then the counter too: both must agree."""
    t = kit.start(rng, "tag-rolled")
    pulls, stays = pulls_of(rng)
    end = stays[-1][1] + rng.choice([10, 40])
    tell_modes(rng, t, stays)
    still = rng.random() < 0.15
    what = 0.0 if still else rng.random()
    if what < 0.7:
        tell_line(rng, t, pulls, end, (rng.uniform(5, end), rng.choice([0, 0, 4, 4] if still else [0, 0, 4])), counter=what < 0.35)
    other = [(a, b, m * rng.choice([1, 1, 1, 2.5])) for a, b, m in pulls]
    tell_tag(rng, t, other, rng.choice([0.5, 0.5, stays[0][0] + 2.5]), end - rng.choice([0, 0, 25]), still)
    around(rng, t, stays, end)
    t.op(end + 1, "closed", outcome="SIGNED")
    form = form_of(rng, "vehicle.rolled", rng.choice(["10 m", "4 m", "6.5 m"]))
    return (kit.drop(rng, t.texts(), rng.choice(["gps.tag", "line"]), 0.15), kit.procedure([(form, "")], kit.ROLLING % "5 min"),
            winch_truck(rng, "86 mm"))


def winch_way_family(rng, kit):
    """Neither counter nor tag: what the winch can have drawn."""
    t = kit.start(rng, "winch-way")
    pulls, stays = pulls_of(rng)
    end = stays[-1][1] + 10
    if rng.random() < 0.6:
        pulls[0] = (stays[0][0] - 4, pulls[0][1], pulls[0][2])  # The line pulls before the car rolls,
    if rng.random() < 0.3:
        pulls[-1] = (pulls[-1][0], stays[-1][1] + 5, pulls[-1][2])  # or after.
    tell_modes(rng, t, stays)
    if rng.random() < 0.85:
        tell_line(rng, t, pulls, end, (0, 0), counter=False, dt=rng.choice([0.5, 1.0, 1.0]))
    t.op(end + 1, "closed", outcome="SIGNED")
    form = form_of(rng, "vehicle.rolled", rng.choice(["10 m", "4 m", "20 m"]))
    register = winch_truck(rng, "86 mm") if rng.random() < 0.9 else ""
    return (kit.drop(rng, t.texts(), rng.choice(["operator", "line"]), 0.2), kit.procedure([(form, "")], kit.ROLLING % "5 min"), register)


def driven_family(rng, kit):
    """What the truck drives, by its receiver, in holes of which it may be said to stand."""
    t = kit.start(rng, "driven")
    begin, end = round(rng.uniform(8, 30), 1), round(rng.uniform(120, 300), 1)
    tell_modes(rng, t, [(begin, end)])
    now, speed, sd = 1.0, rng.choice([0.0, 5.0]), rng.choice([0.05, 0.1, 1.5])
    hole, dt = (rng.uniform(5, end), rng.choice([0, 0, 8, 14, 40])), rng.choice([1.0, 2.0, 5.0])
    moving = False
    t.put(0.4, "gps.truck", "truckMotion", {"moving": False})
    while now < end + 15:
        if rng.random() < 0.1:
            speed = rng.choice([0.0, 3.0, 12.5, 22.25])
            if (speed > 0) != moving:
                moving = speed > 0
                t.put(round(now - 0.45, 3), "gps.truck", "truckMotion", {"moving": moving})
        if not hole[0] <= now < hole[0] + hole[1]:
            t.put(round(now, 3), "gps.truck", "fix", {"latDeg": 44.5, "lonDeg": -30, "speedMps": speed, "hSdM": 2.5,
                                                      "speedSdMps": sd, "mode": 3})
        now += dt
    t.op(end + 20, "closed", outcome="SIGNED")
    form = form_of(rng, "truck.driven", rng.choice(["500 m", "1200 m", "2000 m"])).replace("HANDLING", "JOB")
    if rng.random() < 0.5:
        form = form.replace(' longest_gap: "3 s"', "")
    more = fastest(rng, "truck.driven", rng.choice(["10 m/s", "100 km/h"]))
    return (kit.drop(rng, t.texts(), rng.choice(["gps.truck", "operator"]), 0.15), kit.procedure([(form, "")], more + kit.ROLLING % "1 h"), "")


FAMILIES = (rope_way_family, tag_rolled_family, winch_way_family, driven_family, tag_rolled_family, rope_way_family)
PINNED_ONLY = (tag_rolled_family, winch_way_family)
