"""Jobs whose truck has the rarer instruments: an ammeter at the clamps, an accelerometer on the deck.
Everything is invented. g figures: 49 CFR 393.102(a) (0.8 forward, 0.5 rearward and sideways), times
9.80665 m/s2; what counts as a short is common practice, no source.
"""

import math

from boost_cases import boost_story
from scenario_kit import arrive, finish, open_job
from trace_kit import U, Trace, at, expect, write_case, z_of

LOST = "lost on the way"  # A line with these words gets its number and is then missing.


def write(t, about, procedure, code, expected, source="worked out by hand from common practice"):
    write_case(t.job, [text for text in t.texts() if LOST not in text], {
        "about": about, "source": source, "procedures": [procedure], "register": "fleet", "exit": code, "others": "met",
        "expected": expected})


def metered(case, short=None, until="08:20", silent=False):
    """A boost with jaws, volts and amps; `short`: (start, seconds, volts) of 180 A."""
    t = Trace(case, "2026-11-27T09:00:00Z")
    open_job(t, ["boost", "boost-metered"], "wrenlet", "OW-02")
    arrive(t, film="01:10")
    boost_story(t, "04:20", "04:31", "04:40", "08:05", "08:16", end=at("10:30"))
    lines = []
    for when, order, source, kind, content, common in t.lines:
        now = when / 1e6
        if short and kind == "sample" and content["signal"] == "clamp.volts" and short[0] <= now < short[0] + short[1]:
            content = {"signal": "clamp.volts", "value": short[2]}
        lines.append((when, order, source, kind, content, common))
    t.lines = lines
    now = at("04:19")
    while not silent and now < at(until):
        shorted = short and short[0] <= now < short[0] + short[1]
        t.sample(now, "clamp.current", "clamp.amps", 180 if shorted else 22 if at("04:40") <= now < at("08:05") else 0)
        now += 1.0
    t.op(at("06:55"), "screen", awake=True)
    t.op(at("07:20"), "driveReady", confirmed=True)
    finish(t, "10:30")
    return t


def boosts():
    none = dict(unit="items", basis="measured")
    write(metered("metered"), "22 A at 12.6 to 14.4 V all through: no short.", "boost-metered", 0,
          [expect("shorted", "met", best=0, lo=0, hi=0, tol=0, **none)])
    write(metered("metered-short", (at("04:50"), 1.0, 0.8)), "180 A at 0.8 V for a second.", "boost-metered", 2,
          [expect("shorted", "deviated", best=-1, lo=-1, hi=-1, tol=0, at="2026-11-27T09:04:50.000000Z", **none)])
    write(metered("metered-surge", (at("04:50"), 1.0, 12.1)), "180 A at 12.1 V: a car that wakes, no short.",
          "boost-metered", 0, [expect("shorted", "met", best=0, tol=0, **none)])
    write(metered("metered-ended", until="06:00"), "The ammeter ends while the leads are on.", "boost-metered", 1,
          [expect("shorted", "unproven", reason="cut_short", unit="items")])
    write(metered("metered-silent", silent=True), "No ammeter, though the job names the file for one.", "boost-metered", 1,
          [expect("shorted", "unproven", reason="no_data", unit="items")])


def hauled(case, peaks, silent=(0, 0), loaded=True):
    """25 s on the road at 10 readings a second; peaks: {second: (axis, m/s2, seconds)}."""
    t = Trace(case, "2026-11-27T12:00:00Z")
    open_job(t, ["carry", "carry-measured"], "wrenlet", "OW-04")
    if loaded:
        t.op(at("01:00"), "wheels", which="ALL", on="DECK")
    t.put(at("04:20"), "gps.truck", "truckMotion", {"moving": True})
    t.put(at("04:45"), "gps.truck", "truckMotion", {"moving": False})
    for i in range(-10, 270):
        now = at("04:20") + i / 10
        if silent[0] <= now < silent[1]:
            continue
        values = {"x": 0.2 * math.sin(i / 9), "y": 0.1 * math.cos(i / 7)}
        for start, (axis, value, seconds) in peaks.items():
            if start <= now < start + seconds:
                values[axis] = value
        for axis, value in values.items():
            t.sample(now, "deck", "deck.accel_" + axis, round(value, 3))
    finish(t, "06:00")
    return t


# s.d. 0.1 m/s2, tau 50 ms over means of 200 ms: 0.1 sqrt(2 x 0.05 / 0.2) = 0.0707, up to 0.071 m/s2.
S = 0.071
Z = z_of(4 * 3600, 0.05)


def hauls():
    source = "49 CFR 393.102(a), times 9.80665 m/s2"

    def ways(**more):
        return [expect(rule, "met", basis="measured", unit="m/s2", **more) for rule in ("speeding_up", "bend_left", "bend_right")]

    t = hauled("decel", {at("04:30"): ("x", -3.04, 2)})  # 0.31 g
    write(t, "Braked with 0.31 g.", "carry-measured", 0,
          [expect("braking", "met", best=7.845 - 3.04, lo=7.845 - 3.04 - U * S, tol=0.002, tol_best_only=True, unit="m/s2",
                  basis="measured")] + ways(), source)
    t = hauled("decel-hard", {at("04:30"): ("x", -8.83, 1)})  # 0.9 g
    write(t, "A stop of 0.9 g for a second.", "carry-measured", 2,
          [expect("braking", "deviated", best=7.845 - 8.83, hi=7.845 - 8.83 + Z * S, tol=0.003, unit="m/s2",
                  lo=7.845 - 8.83 - U * S, basis="measured")] + ways(), source)
    t = hauled("decel-bend", {at("04:35"): ("y", -5.6, 1.5)})  # 0.57 g to the right
    write(t, "A bend to the right with 0.57 g.", "carry-measured", 2,
          [expect("bend_right", "deviated", best=4.903 - 5.6, tol=0.002, tol_best_only=True, unit="m/s2", basis="measured")], source)
    t = hauled("decel-hole", {}, silent=(at("04:30"), at("04:34")))
    write(t, "4 s without a reading.", "carry-measured", 1,
          [expect(rule, "unproven", reason="no_data", unit="m/s2") for rule in ("braking", "speeding_up", "bend_left", "bend_right")],
          source)
    t = hauled("decel-empty", {at("04:30"): ("x", -8.83, 1)}, loaded=False)
    write(t, "The same stop, nothing aboard.", "carry-measured", 0, [expect("braking", "")], source)


def make():
    boosts()
    hauls()
