"""Cases of the speed by a tag that says where it goes: what is known of the way, and what its rests tell of its noise.

u = 1.645 s.d. and z of a phase of 5 min by the written rule semantics; the s.d. of a component at rest is the root
mean square of the speeds said there over sqrt 2.
"""

import math

from corpus_cases import LAT0, LON0, SPEED, case, trace
from trace_kit import U, expect, z_of

Z = z_of(300, 1.5)
LIMIT = 1.389  # 5 km/h in whole mm/s


def reading(t, when, mps, course, sd, **common):
    t.put(when, "gps.tag", "fix", {"latDeg": LAT0, "lonDeg": LON0, "speedMps": mps, "courseDeg": course, "hSdM": 2.5,
                                   "speedSdMps": sd, "mode": 3}, **common)


def judged(verdict, best, lo, hi):
    reason = {"reason": "too_close"} if verdict == "unproven" else {}
    return expect("speed", verdict, best=best * 3.6, lo=lo * 3.6, hi=hi * 3.6, tol=0.02, unit="km/h", basis="measured", **reason)


def code(verdict):
    return {"met": 0, "deviated": 2}.get(verdict, 1)


def vague_ways():
    """Two readings north among nine east: the way of the five seconds either side is not theirs. The component accuses, the
    length is the most that it can be."""
    for name, north, east, verdict in (("vague", 1.8, 0.48, "unproven"), ("slow", 1.2, 0.32, "met"), ("fast", 3.2, 0.48, "deviated")):
        t = trace("way-" + name)
        for when in range(-20, 51):
            reading(t, when, *((north, 0) if when in (20, 21) else (east, 90)), 0.05)
        t.op(20, "vehicleMode", mode="ROLLING")
        t.op(22, "vehicleMode", mode="PARKED")
        t.op(60, "closed", outcome="SIGNED")
        along = north * 2 * north / math.hypot(2 * north, 9 * east)
        case("way-" + name, t.texts(), SPEED, [judged(verdict, LIMIT - along, LIMIT - north - U * 0.05, LIMIT - along + Z * 0.05)],
             code(verdict), f"{north} m/s north for two seconds among readings that go east: {along:.2f} m/s along their mean.")
    t = trace("way-back")
    for when in range(-20, 51):
        reading(t, when, *((1.8, 180) if when == 30 else (1.0, 0)), 0.05)
    t.op(20, "vehicleMode", mode="ROLLING")
    t.op(40, "vehicleMode", mode="PARKED")
    t.op(60, "closed", outcome="SIGNED")
    case("way-back", t.texts(), SPEED, [judged("deviated", LIMIT - 1.8, LIMIT - 1.8 - U * 0.05, LIMIT - 1.8 + Z * 0.05)], 2,
         "A second backwards at 1.8 m/s is as fast.")


def noise_at_rest():
    """1.9 m/s north for 20 s, s.d. 0.1 m/s as stated: deviated, unless the rests say that it is more."""
    def rest(name, verdict, sd, about, speed=lambda when: 0.4, still=-59, first=-50):
        t = trace("rest-" + name)
        if still is not None:
            t.put(still, "gps.truck", "truckMotion", {"moving": False})
        for when in range(first, 71):
            if 20 <= when < 40:
                reading(t, when, 1.9, 0, 0.1)
            elif speed(when) is not None:
                reading(t, when, speed(when), 90 * when % 360, 0.1)
        t.op(20, "vehicleMode", mode="ROLLING")
        t.op(40, "vehicleMode", mode="PARKED")
        t.op(80, "closed", outcome="SIGNED")
        case("rest-" + name, t.texts(), SPEED, [judged(verdict, LIMIT - 1.9, LIMIT - 1.9 - U * sd, LIMIT - 1.9 + Z * sd)], code(verdict), about)

    noisy = 0.4 / math.sqrt(2)
    rest("noisy", "unproven", noisy, "0.4 m/s this way and that at rest: 0.28 m/s on either axis.")
    rest("quiet", "deviated", 0.1, "0.05 m/s at rest: what is stated stands, never less.", lambda when: 0.05)
    rest("zeroed", "unproven", noisy, "Every other reading at rest is exactly 0.0, the receiver's own zeroing, and tells nothing.",
         lambda when: 0.0 if when % 8 in (4, 5, 6, 7) else 0.4)
    rest("few", "deviated", 0.1, "Nine readings at rest are too few.", lambda when: 0.4 if 50 <= when < 59 else None)
    rest("ten", "unproven", noisy, "Ten are enough.", lambda when: 0.4 if 50 <= when < 60 else None)
    rest("late", "deviated", 0.1, "The line may be late: the 3 s around the pull are no rest, nor those after the truck's word.",
         lambda when: 3.0 if 17 < when < 43 or when < -47 else 0.05, still=-50)
    rest("truck", "deviated", 0.1, "Nobody said whether the truck stood.", still=None)


def make():
    vague_ways()
    noise_at_rest()
