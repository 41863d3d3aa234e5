#!/usr/bin/python3
"""Seeded mutations of the rule kernels: each is built into judge_many and held against the naive evaluator.

    /usr/bin/python3 tests/oracle/mutations.py BUILD [--count N] [--first SEED] [--random CASES]

A mutation changes one operator, bound or number in a daemon/judge/form_*.cpp (or forms.cpp, margins.h);
the source is put back after each, whatever happens. Caught: the build fails, the corpus or the random
cases differ, or a unit test fails. Prints every one that lives; exit 1 if fewer than 95 % are caught. Resumes from its log,
build/long/mutations.jsonl, as long as the kernels are the same.
"""

import hashlib
import json
import os
import random
import re
import signal
import subprocess
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
JUDGE = os.path.join(ROOT, "daemon", "judge")
LOG = os.path.join(ROOT, "build", "long", "mutations.jsonl")
LEAST_SHARE = 0.95

# What may change into what; a word boundary where letters meet.
SWAPS = [(r" < ", " <= "), (r" <= ", " < "), (r" > ", " >= "), (r" >= ", " > "), (r" == ", " != "), (r" != ", " == "),
         (r" && ", " || "), (r" \|\| ", " && "), (r" \+ ", " - "), (r" - ", " + "), (r"std::min\(", "std::max("),
         (r"std::max\(", "std::min("), (r"lo_us", "hi_us"), (r"hi_us", "lo_us"), (r"surely_to", "possibly_to"),
         (r"possibly_to", "surely_to"), (r"kNoData", "kTooClose"), (r"kClockDoubt", "kNoData"), (r"kCutShort", "kNotYet"),
         (r"kTrue", "kFalse"), (r"kFalse", "kTrue"), (r"break;", "continue;")]


def sources():
    names = sorted(n for n in os.listdir(JUDGE) if n.startswith("form_") and n.endswith(".cpp"))
    return [os.path.join(JUDGE, n) for n in names + ["forms.cpp", "margins.h"]]


def judged_part(text):
    """Where a change would change a verdict or a margin: not comments, includes, words for people."""
    for match in re.finditer(r"[^\n]*\n", text):
        line = match.group(0)
        if re.match(r"\s*(//|#|namespace|using|\")", line) or "fmt::" in line or "words" in line or ".limit =" in line:
            continue
        yield match.start(), line


def mutations():
    out = []
    for path in sources():
        with open(path, encoding="utf-8") as file:
            text = file.read()
        for start, line in judged_part(text):
            for pattern, after in SWAPS:
                for match in re.finditer(pattern, line):
                    if '"' in line[:match.start()]:
                        continue
                    out.append((path, start + match.start(), start + match.end(), after))
    return out


def digest():
    state = hashlib.sha256()
    for path in sources() + [os.path.join(HERE, "random_cases.py")]:
        with open(path, "rb") as file:
            state.update(file.read())
    return state.hexdigest()


def build(folder):
    return subprocess.run(["ninja", "-C", folder, "-j2", "judge_many", "judge_test"], capture_output=True).returncode == 0


def caught(folder, cases):
    if not build(folder):
        return "build"
    many = os.path.join(folder, "tests", "oracle", "judge_many")
    try:
        done = subprocess.run(["/usr/bin/python3", "-B", os.path.join(HERE, "compare.py"), "--batch", many, "--batch-corpus",
                               "--random", str(cases), "--stop", "1", "--no-shrink"], capture_output=True, timeout=300)
    except subprocess.TimeoutExpired:
        return "time"
    if done.returncode:
        return "cases"
    unit = os.path.join(folder, "tests", "unit", "judge", "judge_test")
    return "unit" if subprocess.run([unit], capture_output=True, cwd=ROOT).returncode else ""


def try_one(folder, mutation, cases):
    path, start, end, after = mutation
    with open(path, encoding="utf-8") as file:
        text = file.read()
    try:
        with open(path, "w", encoding="utf-8") as out:
            out.write(text[:start] + after + text[end:])
        return caught(folder, cases), text[:start].count("\n") + 1, text[start:end]
    finally:
        with open(path, "w", encoding="utf-8") as out:
            out.write(text)


def main(arguments):
    folder, count, first, cases = os.path.abspath(arguments.pop(0)), 40, 1, 600
    while arguments:
        key, value = arguments.pop(0), int(arguments.pop(0))
        count, first, cases = (value if key == name else old for name, old in
                               (("--count", count), ("--first", first), ("--random", cases)))
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    if not build(folder) or caught(folder, cases):
        print("the kernels as they stand do not build or do not agree; mend that first")
        return 1
    now, done = digest(), {}
    os.makedirs(os.path.dirname(LOG), exist_ok=True)
    if os.path.exists(LOG):
        with open(LOG, encoding="utf-8") as file:
            done = {row["seed"]: row for row in map(json.loads, file) if row["kernels"] == now}
    every = mutations()
    random.Random(7).shuffle(every)
    killed = lived = 0
    for seed in range(first, min(first + count, len(every) + 1)):
        row = done.get(seed)
        if row is None:
            path = every[seed - 1][0]
            by, line, was = try_one(folder, every[seed - 1], cases)
            row = {"kernels": now, "seed": seed, "file": os.path.basename(path), "line": line, "was": was,
                   "is": every[seed - 1][3], "by": by}
            with open(LOG, "a", encoding="utf-8") as out:
                out.write(json.dumps(row) + "\n")
        killed, lived = killed + bool(row["by"]), lived + (not row["by"])
        if not row["by"]:
            print(f"lives: {row['file']}:{row['line']}: '{row['was']}' -> '{row['is']}' (seed {seed})", flush=True)
    build(folder)
    print(f"{killed} caught, {lived} live, of {len(every)} possible")
    return 0 if killed and killed >= LEAST_SHARE * (killed + lived) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
