#!/usr/bin/python3
"""Holds `fairlead judge` against the naive evaluator: every sound case of tests/traces, then random jobs.

    /usr/bin/python3 tests/oracle/compare.py [PROGRAM] [--random N] [--first SEED] [--keep FOLDER]

Applies, verdict and reason must be equal, margins equal within two stored units (1e-3 of a kN, kg, m or
V, 0.01 km/h: the program rounds outward, this rounds nothing). Prints each difference; exit 1 on any.
"""

import json
import os
import subprocess
import sys
import tempfile

import naive_judge
import random_cases

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
TRACES = os.path.join(ROOT, "tests", "traces")
sys.path.insert(0, TRACES)
import run_cases  # noqa: E402

NEAR = {"km/h": 0.0105, "m/s": 0.003, "kN": 0.0025, "N": 2.5, "V": 0.0025, "kg": 0.0025, "m": 0.0055, "s": 0.0011,
        "items": 0, "deg": 0.003}
# A limit that is itself a quantity, or an angle's cosine, combines two spreads: only best is stated.
BEST_ONLY = {"rolls_freely", "leg", "layer", "included_angle"}


def differences(program_out, naive, lost=False):
    """`lost`: lines are missing; how far bounds widen for what could stand there is left to the program."""
    out = []
    if len(program_out) != len(naive):
        return [("findings", len(program_out), len(naive))]
    for ours, theirs in zip(program_out, naive):
        if theirs["verdict"] == "skipped":
            continue
        for key in ("rule", "applies", "verdict", "reason"):
            if ours[key] != theirs[key]:
                out.append((theirs["rule"] + " " + key, ours[key], theirs[key]))
        if theirs["verdict"] not in ("met", "deviated") or lost:
            continue
        near = NEAR.get(theirs["unit"], 0.003)
        for key in ("marginBest",) if theirs["rule"] in BEST_ONLY else ("marginLo", "marginBest", "marginHi"):
            a, b = ours[key], theirs[key]
            # s is rounded up before z multiplies it: marginHi may differ by z, below 5, stored units.
            wide = near * (2.5 if key == "marginHi" and theirs["unit"] in ("kN", "V", "km/h") else 1)
            if (a is None) != (b is None) or a is not None and abs(a - b) > wide:
                out.append((theirs["rule"] + " " + key, a, b))
    return out


def run(program, trace, procedures, registers):
    line = [program, "judge", trace, "--json"]
    for name in procedures:
        line += ["--procedure", name]
    for name in registers:
        line += ["--register", name]
    done = subprocess.run(line, capture_output=True, timeout=60)
    if done.returncode not in (0, 1, 2):
        return done.stderr.decode(errors="replace").strip()
    return [json.loads(text) for text in done.stdout.decode().splitlines() if text]


def lost_lines(trace):
    seqs = {}
    with open(trace, encoding="utf-8") as file:
        for text in file:
            if text.strip():
                row = json.loads(text)
                seqs.setdefault(row["source"], set()).add(row["seq"])
    return any(max(found) - min(found) + 1 != len(found) for found in seqs.values())


def check(program, label, trace, procedures, registers):
    ours = run(program, trace, procedures, registers)
    if isinstance(ours, str):
        found = [("refused", ours[:200], "judged")]
    else:
        files = []
        for path in registers:
            files += [os.path.join(path, f) for f in sorted(os.listdir(path)) if f.endswith(".textproto")] \
                if os.path.isdir(path) else [path]
        found = differences(ours, naive_judge.judge(trace, procedures, files), lost_lines(trace))
    for field, a, b in found:
        print(f"{label}: {field}: program {a}, naive {b}")
    return not found


def cases():
    for case in sorted(os.listdir(TRACES)):
        if not os.path.exists(os.path.join(TRACES, case, "case.json")):
            continue
        with open(os.path.join(TRACES, case, "case.json"), encoding="utf-8") as file:
            spec = json.load(file)
        if spec["exit"] == 3 or "args" in spec:
            continue
        registers = [run_cases.FLEET if spec["register"] == "fleet" else os.path.join(TRACES, case, spec["register"])] \
            if spec["register"] else []
        yield case, [run_cases.procedure_path(case, name) for name in spec["procedures"]], registers


def main(arguments):
    program, count, first, keep = os.path.join(ROOT, "build/release/bin/fairlead"), 200, 1, None
    while arguments:
        key = arguments.pop(0)
        if key == "--random":
            count = int(arguments.pop(0))
        elif key == "--first":
            first = int(arguments.pop(0))
        elif key == "--keep":
            keep = arguments.pop(0)
        else:
            program = key
    good = bad = 0
    for case, procedures, registers in cases() if first == 1 else []:
        fine = check(program, case, os.path.join(TRACES, case, "trace.jsonl"), procedures, registers)
        good, bad = good + fine, bad + (not fine)
    with tempfile.TemporaryDirectory() as scratch:
        folder = keep or scratch
        os.makedirs(folder, exist_ok=True)
        for seed in range(first, first + count):
            family, lines, procedure, register = random_cases.make(seed)
            names = [os.path.join(folder, f"{seed}.{end}") for end in ("jsonl", "procedure.textproto", "register.textproto")]
            for name, text in zip(names, ("\n".join(lines) + "\n", procedure, register)):
                with open(name, "w", encoding="utf-8") as out:
                    out.write(text)
            fine = check(program, f"seed {seed} {family}", names[0], [names[1]], [names[2]] if register else [])
            good, bad = good + fine, bad + (not fine)
    print(f"{good} agree, {bad} differ")
    return 1 if bad or not good else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
