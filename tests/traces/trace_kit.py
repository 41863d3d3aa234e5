"""What every case is built from: a trace writer, tag noise, and the arithmetic of expectations.

Pure functions of their arguments and a seed; standard library only. Times are seconds from arrival.
"""

import datetime
import hashlib
import json
import math
import os
import random
from statistics import NormalDist

HERE = os.path.dirname(os.path.abspath(__file__))
EPOCH = datetime.datetime(1970, 1, 1, tzinfo=datetime.timezone.utc)


def at(text):
    """'mm:ss' or 'mm:ss.s' as seconds."""
    sign = -1 if text.startswith("-") else 1
    minutes, seconds = text.lstrip("-").split(":")
    return sign * (int(minutes) * 60 + float(seconds))


def digest(words):
    return hashlib.sha256(words.encode()).hexdigest()


def time_text(base, seconds):
    us = round(seconds * 1e6)
    stamp = (EPOCH + datetime.timedelta(microseconds=base + us)).strftime("%Y-%m-%dT%H:%M:%S.%f")
    return stamp.rstrip("0").rstrip(".") + "Z"


def base_us(text):
    return round((datetime.datetime.fromisoformat(text.replace("Z", "+00:00")) - EPOCH).total_seconds() * 1e6)


class Trace:
    """Lines of one job. `put` in any order; seq is given per source in order of time."""

    def __init__(self, job, base, clock="truck", bursts=False):
        self.job, self.base, self.clock, self.bursts = job, base_us(base), clock, bursts
        self.lines = []

    def put(self, t, source, kind, content, **common):
        self.lines.append((round(t * 1e6), len(self.lines), source, kind, content, common))

    def op(self, t, kind, /, **content):
        self.put(t, "operator", kind, content)

    def sample(self, t, source, signal, value):
        self.put(t, source, "sample", {"signal": signal, "value": value})

    def rows(self):
        """(time us, object) in order of time, seq given."""
        seqs, rows = {}, []
        marks = []
        for t, _, source, kind, content, common in sorted(self.lines, key=lambda line: line[:2]):
            seqs[source] = seqs.get(source, 0) + 1
            row = {"time": time_text(self.base, t / 1e6), "job": self.job, "source": source,
                   "seq": seqs[source], "clock": self.clock}
            row.update(common)
            row = {k: v for k, v in row.items() if v is not None}
            row[kind] = content
            rows.append(row)
            if source == "operator":
                marks.append(t)
        if not self.bursts:  # Three operator marks within 5 s would widen their times.
            for first, third in zip(marks, marks[2:]):
                assert third - first > 5_000_000, (self.job, first / 1e6)
        return rows

    def texts(self):
        return [json.dumps(row, separators=(",", ":"), ensure_ascii=False) for row in self.rows()]


CHECK_ONLY = False  # make_cases.py --check: compare with what stands there, write nothing
DIFFERING = []


def write_file(case, name, text):
    path = os.path.join(HERE, case, name)
    data = text if isinstance(text, bytes) else text.encode()
    assert len(data) < 400_000, (case, name, len(data))
    if CHECK_ONLY:
        with open(path, "rb") as stands:
            if stands.read() != data:
                DIFFERING.append(path)
        return
    os.makedirs(os.path.dirname(path), exist_ok=True)
    with open(path, "wb") as out:
        out.write(data)


def write_case(case, lines, spec):
    write_file(case, "trace.jsonl", b"".join(
        (line if isinstance(line, bytes) else line.encode()) + b"\n" for line in lines))
    write_file(case, "case.json", json.dumps(spec, indent=1, ensure_ascii=False) + "\n")


def expect(rule, verdict, procedure=None, **more):
    """One expected finding. best/lo/hi in `unit` with `tol`; `inside`: lo <= it <= hi."""
    row = {"rule": rule}
    if procedure:
        row["procedure"] = procedure
    row["applies"] = more.pop("applies", "yes" if verdict else "no")
    row["verdict"] = verdict
    row.update(more)
    return row


def z_of(longest_s, tau_s):
    """Risk shared over a phase: N_eff = max(1, 6 T / tau), z = Phi^-1(1 - 0.05 / N_eff)."""
    return NormalDist().inv_cdf(1 - 0.05 / max(1.0, 6 * longest_s / tau_s))


def bin_s(sd, tau_s, length_s):
    """s of a bin = s.d. x min(1, sqrt(2 tau / length))."""
    return sd * min(1.0, math.sqrt(2 * tau_s / length_s))


U = 1.645  # one-sided 95 %


class TagNoise:
    """Position: Gauss-Markov 2.5 m (60 s) and 0.5 m white; speed: 0.08 m/s (2.5 s) and 0.04 white.

    The family the distance estimator assumes, at its centre values.
    """

    def __init__(self, seed, dt, position=(2.5, 60.0, 0.5), speed=(0.08, 2.5, 0.04)):
        self.random = random.Random(seed)
        self.position, self.speed, self.dt = position, speed, dt
        gauss = self.random.gauss
        self.m = [gauss(0, position[0]) for _ in range(2)]
        self.d = [gauss(0, speed[0]) for _ in range(2)]

    def step(self):
        gauss = self.random.gauss
        for state, (sd, tau, _) in ((self.m, self.position), (self.d, self.speed)):
            keep = math.exp(-self.dt / tau)
            for axis in range(2):
                state[axis] = keep * state[axis] + sd * math.sqrt(1 - keep * keep) * gauss(0, 1)
        return ([self.m[a] + gauss(0, self.position[2]) for a in range(2)],
                [self.d[a] + gauss(0, self.speed[2]) for a in range(2)])


LAT0, LON0 = 44.5, -30.0  # Open ocean: no real place. Metres a degree there, WGS 84.
LAT_M, LON_M = 111122.6, 79529.6


def put_tag(trace, start, stop, seed, way, speed, dt=1.0, source="gps.tag"):
    """Fixes each dt: `way(t)` metres north of the start, `speed(t)` m/s north."""
    noise = TagNoise(seed, dt)
    for i in range(int((stop - start) / dt) + 1):
        t = start + i * dt
        (north, east), (vn, ve) = noise.step()
        north += way(t)
        vn += speed(t)
        trace.put(t, source, "fix", {
            "latDeg": round(LAT0 + north / LAT_M, 8), "lonDeg": round(LON0 + east / LON_M, 8),
            "speedMps": round(math.hypot(vn, ve), 3),
            "courseDeg": round(math.degrees(math.atan2(ve, vn)) % 360, 1),
            "hSdM": 2.5, "speedSdMps": 0.1, "mode": 3})
