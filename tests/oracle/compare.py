#!/usr/bin/python3
"""Holds `fairlead judge` against the naive evaluator: every sound case of tests/traces, then random jobs.

    /usr/bin/python3 tests/oracle/compare.py [PROGRAM] [--batch JUDGE_MANY] [--random N] [--first SEED]
                                             [--keep FOLDER] [--jobs N] [--stop AFTER] [--later]

The random jobs go through JUDGE_MANY (tests/oracle/judge_many.cpp: many cases in one process) where it is
given, else through PROGRAM one by one; with --batch-corpus the cases of tests/traces too. --later: the
seeds of the families that came later, as many as the tests take (random_cases.TESTED). A job that differs
is made as small as it will go before it is shown, unless --no-shrink.

Applies, verdict and reason must be equal, margins (of what stays unproven too) equal within two stored units (1e-3 of a kN, kg, m or
V, 0.01 km/h: the program rounds outward, this rounds nothing). The whole finding of a pinned seed must be what
random_pins.txt says. Prints each difference; exit 1 on any.
"""

import json
import multiprocessing
import os
import subprocess
import sys
import tempfile

import naive_judge
import random_cases
import said

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
TRACES = os.path.join(ROOT, "tests", "traces")
sys.path.insert(0, TRACES)
import run_cases  # noqa: E402

NEAR = {"km/h": 0.0105, "m/s": 0.003, "kN": 0.0025, "N": 2.5, "V": 0.0025, "kg": 0.0025, "m": 0.0055, "s": 0.0011,
        "items": 0, "deg": 0.003}
# A limit that is itself a quantity, or an angle's cosine, combines two spreads: only best is stated.
BEST_ONLY = {"rolls_freely", "leg", "layer", "included_angle"}


def differences(program_out, naive, lost=()):
    """`lost`: sources of which lines are missing; how far bounds widen for what could stand there is left to the program, but where
    that decides: met by the low end, deviated by the high one."""
    out = []
    if len(program_out) != len(naive):
        return [("findings", len(program_out), len(naive))]
    for ours, theirs in zip(program_out, naive):
        if theirs["verdict"] == "skipped":
            continue
        for key in ("rule", "applies", "verdict", "reason"):
            if ours[key] != theirs[key]:
                out.append((theirs["rule"] + " " + key, ours[key], theirs[key]))
        # An ended job of which nothing is missing is settled; what an operator may have said touches every rule.
        if not lost and not ours["settled"] or "operator" in lost and ours["settled"]:
            out.append((theirs["rule"] + " settled", ours["settled"], not lost))
        if theirs["reason"] == "sources_disagree" or lost and theirs["verdict"] == "unproven":
            continue
        keys = ("marginBest",) if theirs["rule"] in BEST_ONLY else ("marginLo", "marginBest", "marginHi")
        near = NEAR.get(theirs["unit"], 0.003)
        for key in keys[1:] if lost and theirs["verdict"] == "deviated" else keys:
            a, b = ours[key], theirs[key]
            # s is rounded up before z multiplies it: marginHi may differ by z, below 5, stored units.
            wide = near * (2.5 if key == "marginHi" and theirs["unit"] in ("kN", "V", "km/h") else 1)
            if (a is None) != (b is None) or a is not None and abs(a - b) > wide:
                out.append((theirs["rule"] + " " + key, a, b))
    return out


class Batch:
    """One judge_many process: case after case through its pipes."""

    def __init__(self, program):
        self.process = subprocess.Popen([program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8")

    def run(self, trace, procedures, registers):
        files = []
        for path in registers:
            files += sorted(os.path.join(path, f) for f in os.listdir(path) if f.endswith(".textproto")) \
                if os.path.isdir(path) else [path]
        self.process.stdin.write("\t".join([trace, ",".join(procedures)] + files) + "\n")
        self.process.stdin.flush()
        found = []
        while True:
            text = self.process.stdout.readline()
            if not text:
                return "judge_many ended"
            if text.startswith("!"):
                return text[1:].strip()
            if text == "\n":
                return found
            found.append(json.loads(text))


def run(program, trace, procedures, registers):
    if isinstance(program, Batch):
        return program.run(trace, procedures, registers)
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
    with open(trace, encoding="utf-8") as file:
        return random_cases.lost_lines([text for text in file if text.strip()])


def found_differences(program, trace, procedures, registers, pin=None, naive=True):
    ours = run(program, trace, procedures, registers)
    if isinstance(ours, str):
        return [("refused", ours[:200], "judged")]
    files = []
    for path in registers:
        files += [os.path.join(path, f) for f in sorted(os.listdir(path)) if f.endswith(".textproto")] \
            if os.path.isdir(path) else [path]
    found = naive and differences(ours, naive_judge.judge(trace, procedures, files), lost_lines(trace))
    if not found and pin and said.pin(ours) != pin:
        found = [("pin", said.pin(ours), ("agrees" if naive else "not asked") + "; random_pins.txt says " + pin)]
    return found or []


def check(program, label, trace, procedures, registers):
    found = found_differences(program, trace, procedures, registers)
    for field, a, b in found:
        print(f"{label}: {field}: program {a}, naive {b}")
    return not found


def write(folder, seed, lines, procedure, register):
    names = [os.path.join(folder, f"{seed}.{end}") for end in ("jsonl", "procedure.textproto", "register.textproto")]
    for name, text in zip(names, ("\n".join(lines) + "\n", procedure, register)):
        with open(name, "w", encoding="utf-8") as out:
            out.write(text)
    return names[0], [names[1]], [names[2]] if register else []


def shrink(program, folder, seed, lines, procedure, register):
    """Lines taken out, one by one and renumbered, as long as the two still differ."""
    def differs(some):
        seqs, rows = {}, []
        for text in some:
            row = json.loads(text)
            row["seq"] = seqs[row["source"]] = seqs.get(row["source"], 0) + 1
            rows.append(json.dumps(row, separators=(",", ":")))
        try:
            return rows if found_differences(program, *write(folder, f"{seed}.small", rows, procedure, register)) else None
        except Exception:  # the naive evaluator wants a whole job
            return None
    if lost_lines(write(folder, f"{seed}.small", lines, procedure, register)[0]):
        return lines
    i = 0
    while i < len(lines):
        smaller = differs(lines[:i] + lines[i + 1:])
        if smaller:
            lines = smaller
        else:
            i += 1
    return lines


def random_part(arguments):
    """Cases of some seeds, in a process of its own."""
    program, batch, seeds, keep, stop, small = arguments
    judge = Batch(batch) if batch else program
    good, bad, pins = 0, [], said.pins()
    with tempfile.TemporaryDirectory(dir="/dev/shm" if os.path.isdir("/dev/shm") else None) as scratch:
        folder = keep or scratch
        os.makedirs(folder, exist_ok=True)
        for seed in seeds:
            family, lines, procedure, register = random_cases.make(seed)
            files = write(folder, seed, lines, procedure, register)
            found = found_differences(judge, *files, pins.get(seed), family not in random_cases.PINNED_ONLY)
            if not found:
                good += 1
                for name in [] if keep else [files[0]] + files[1] + files[2]:
                    os.remove(name)
                continue
            smallest = shrink(judge, folder, seed, lines, procedure, register) if small and found[0][0] != "pin" else lines
            bad.append((seed, family, found, procedure, smallest))
            if len(bad) >= stop:
                break
    if batch:
        judge.process.stdin.close()
        judge.process.wait()
    return good, bad


def cases(naive=True):
    """(folder, procedures, registers) of the written cases; `naive`: of those that the naive evaluator can judge."""
    for case in sorted(os.listdir(TRACES)):
        if not os.path.exists(os.path.join(TRACES, case, "case.json")):
            continue
        with open(os.path.join(TRACES, case, "case.json"), encoding="utf-8") as file:
            spec = json.load(file)
        if spec["exit"] == 3 or "args" in spec or naive and not spec.get("naive", True):
            continue
        registers = [run_cases.FLEET if spec["register"] == "fleet" else os.path.join(TRACES, case, spec["register"])] \
            if spec["register"] else []
        yield case, [run_cases.procedure_path(case, name) for name in spec["procedures"]], registers


def main(arguments):
    program, batch, count, first, keep = os.path.join(ROOT, "build/release/bin/fairlead"), None, 200, 1, None
    jobs, stop = os.cpu_count() or 1, 20
    corpus_too, small, later = False, True, False
    while arguments:
        key = arguments.pop(0)
        if key in ("--random", "--first", "--jobs", "--stop"):
            value = int(arguments.pop(0))
            count, first, jobs, stop = (value if key == name else old for name, old in
                                        (("--random", count), ("--first", first), ("--jobs", jobs), ("--stop", stop)))
        elif key == "--batch-corpus":
            corpus_too = True
        elif key == "--later":
            later = True
        elif key == "--no-shrink":
            small = False
        elif key == "--keep":
            keep = arguments.pop(0)
        elif key == "--batch":
            batch = arguments.pop(0)
        else:
            program = key
    good = bad = 0
    judge = Batch(batch) if corpus_too else program
    seeds = [seed for start, most in random_cases.TESTED.items() if start > 1 for seed in range(start, start + most)] \
        if later else range(first, first + count)
    for case, procedures, registers in cases() if 1 in seeds else []:
        fine = check(judge, case, os.path.join(TRACES, case, "trace.jsonl"), procedures, registers)
        good, bad = good + fine, bad + (not fine)
    parts = [(program, batch, seeds[i::jobs], keep, stop, small) for i in range(jobs)]
    with multiprocessing.Pool(jobs) as pool:
        for fine, broken in pool.imap_unordered(random_part, parts):
            good, bad = good + fine, bad + len(broken)
            for seed, family, found, procedure, lines in broken:
                for field, a, b in found:
                    print(f"seed {seed} {family}: {field}: program {a}, naive {b}")
                print(procedure + "\n".join(lines[:30]))
    print(f"{good} agree, {bad} differ")
    return 1 if bad or not good else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
