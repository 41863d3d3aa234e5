#!/usr/bin/python3
"""Properties that need no expected value, on random jobs.

    /usr/bin/python3 tests/oracle/properties.py [PROGRAM] [--random N] [--first SEED]

order     lines in any order, some twice: the same bytes
shift     every time moved by the same span: the same verdicts and margins
lost      one line never arrives (a known gap): met never becomes deviated, nor deviated met
stranger  lines of a source no rule listens to: the same verdicts and margins
"""

import datetime
import json
import os
import random
import re
import subprocess
import sys
import tempfile

import random_cases

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))


def judge(program, folder, lines, registers):
    trace = os.path.join(folder, "trace.jsonl")
    with open(trace, "w", encoding="utf-8") as out:
        out.write("\n".join(lines) + "\n")
    line = [program, "judge", trace, "--procedure", os.path.join(folder, "p.textproto"), "--json"] + registers
    done = subprocess.run(line, capture_output=True, timeout=60)
    if done.returncode not in (0, 1, 2):
        raise RuntimeError(done.stderr.decode(errors="replace")[-300:])
    return done.stdout


def short(stdout):
    return [[json.loads(text)[k] for k in ("rule", "applies", "verdict", "reason", "marginLo", "marginBest", "marginHi")]
            for text in stdout.decode().splitlines()]


def shifted(line):
    def move(match):
        stamp = datetime.datetime.fromisoformat(match.group(1)) + datetime.timedelta(hours=5, seconds=17)
        return f'"time":"{stamp.isoformat()}{match.group(2) or ""}Z"'
    return re.sub(r'"time":"([0-9T:-]{19})(\.\d+)?Z"', move, line)


def flipped(before, after):
    """Rules whose verdict went from met to deviated or back."""
    old = {row[0]: row[2] for row in before}
    return [row[0] for row in after if {old.get(row[0]), row[2]} == {"met", "deviated"}]


def strangers(lines):
    first = json.loads(lines[0])
    out = []
    for i in range(1, 4):
        out.append(json.dumps({"time": first["time"], "job": first["job"], "source": "probe.stranger", "seq": i,
                               "clock": "truck", "note": {"text": "nothing"}}))
    return out


def check(program, folder, seed):
    family, lines, procedure, register = random_cases.make(seed)
    with open(os.path.join(folder, "p.textproto"), "w", encoding="utf-8") as out:
        out.write(procedure)
    registers = []
    if register:
        registers = ["--register", os.path.join(folder, "r.textproto")]
        with open(registers[1], "w", encoding="utf-8") as out:
            out.write(register)
    rng = random.Random(seed)
    plain = judge(program, folder, lines, registers)
    broken = []
    mixed = lines + rng.sample(lines, min(5, len(lines)))
    rng.shuffle(mixed)
    if judge(program, folder, mixed, registers) != plain:
        broken.append("order")
    if short(judge(program, folder, [shifted(line) for line in lines], registers)) != short(plain):
        broken.append("shift")
    if short(judge(program, folder, lines + strangers(lines), registers)) != short(plain):
        broken.append("stranger")
    inner = [i for i, line in enumerate(lines) if '"opened"' not in line and '"closed"' not in line]
    for lost in rng.sample(inner, min(4, len(inner))):
        source = json.loads(lines[lost])["source"]
        own = [i for i in inner if json.loads(lines[i])["source"] == source]
        if lost in (own[0], own[-1]) and source != "operator":
            continue  # the first seq seen is a source's start, and nothing tells of a lost last line
        rest = lines[:lost] + lines[lost + 1:]
        for rule in flipped(short(plain), short(judge(program, folder, rest, registers))):
            broken.append(f"lost line {lost + 1} flips {rule}")
    return [f"seed {seed} {family}: {what}" for what in broken]


def main(arguments):
    program, count, first = os.path.join(ROOT, "build/release/bin/fairlead"), 120, 1
    while arguments:
        key = arguments.pop(0)
        if key == "--random":
            count = int(arguments.pop(0))
        elif key == "--first":
            first = int(arguments.pop(0))
        else:
            program = os.path.abspath(key)
    bad = 0
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(first, first + count):
            found = check(program, folder, seed)
            bad += bool(found)
            for words in found:
                print(words)
    print(f"{count - bad} hold, {bad} broken")
    return 1 if bad or not count else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
