#!/usr/bin/python3
"""Properties that need no expected value, on random jobs.

    /usr/bin/python3 tests/oracle/properties.py [PROGRAM] [--random N] [--first SEED]

order     lines in any order, some twice: the same bytes
shift     every time moved by the same span: the same verdicts and margins
lost      one line never arrives (a known gap): met never becomes deviated, nor deviated met
stranger  lines of a source no rule listens to: the same verdicts and margins
split     a line that only says again what already is so: the same verdicts and margins
loosen    a span of time allowed 7 s more: its margins grow by exactly 7 s, met never becomes deviated
units     a limit written in another unit: the same verdicts, margins the same but for the unit
widen     every line's own clock less sure: unproven never becomes decided
sane      bounds in order, signs by verdict, nothing where a rule does not apply
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
sys.path.insert(0, os.path.join(ROOT, "tests", "traces"))
import run_cases  # noqa: E402


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


LOOSER = re.compile(r'((?:follows_within|wait_between) \{[^}]*(?:within|at_most): ")(\d+) s"')


def loosen(procedure):
    """The procedure with 7 s more allowed, and the places in it of the rules that gained."""
    changed = LOOSER.sub(lambda m: f'{m.group(1)}{int(m.group(2)) + 7} s"', procedure)
    rules = [line for line in procedure.split("\n") if re.match(r"\s+(follows|wait|stays|never|count|all|any|comes|limit|total|"
                                                              r"enough|evidence|recheck|sources)", line)]
    return changed, {f"r{i}" for i, line in enumerate(rules) if LOOSER.search(line) and "_of {" not in line}


def loosened(before, after, rules):
    wrong = []
    for old, new in zip(before, after):
        if old[2] == "met" and new[2] == "deviated":
            wrong.append(f"{old[0]}: met became deviated")
        if old[0] not in rules or old[1] != "yes" or new[1] != "yes" or "unproven" in (old[2], new[2]):
            continue
        if old[5] is not None and new[5] is not None and abs(new[5] - old[5] - 7) > 1e-3:
            wrong.append(f"{old[0]}: {old[5]} became {new[5]}")
    return wrong


def other_units(procedure):
    """Seconds as milliseconds; the times a rule prints stay seconds."""
    return re.sub(r'((?:within|at_least|at_most|min_gap|bridge|tolerate): ")(\d+) s"', lambda m: f'{m.group(1)}{m.group(2)}000 ms"',
                  procedure)


def wider(line):
    row = json.loads(line)
    if "timeUncertaintyMs" in row:
        row["timeUncertaintyMs"] += 500
    return json.dumps(row, separators=(",", ":"))


def flipped(before, after):
    """Rules whose verdict went from met to deviated or back."""
    old = {row[0]: row[2] for row in before}
    return [row[0] for row in after if {old.get(row[0]), row[2]} == {"met", "deviated"}]


def said_again(lines):
    """The last `scene` word before the end, repeated 1 s later by another source; None where there is none."""
    rows = [json.loads(line) for line in lines]
    words = [row for row in rows if "scene" in row]
    if not words or len(words) != len([row for row in rows if "scene" in row and row["source"] == "operator"]):
        return None
    last = max(words, key=lambda row: row["time"])
    stamp = datetime.datetime.fromisoformat(last["time"].replace("Z", "+00:00")) + datetime.timedelta(seconds=1)
    end = max(row["time"] for row in rows)
    if stamp.isoformat() >= end.replace("Z", "+00:00"):
        return None
    return lines + [json.dumps({"time": stamp.strftime("%Y-%m-%dT%H:%M:%S.%fZ"), "job": last["job"], "source": "desk", "seq": 1,
                                "clock": "truck", "scene": last["scene"]})]


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
    for text in plain.decode().splitlines():
        broken += [f"{json.loads(text)['rule']} not sane: {what}" for what in run_cases.sane(json.loads(text))]
    procedure_path = os.path.join(folder, "p.textproto")

    def under(text, some):
        with open(procedure_path, "w", encoding="utf-8") as out:
            out.write(text)
        found = judge(program, folder, some, registers)
        with open(procedure_path, "w", encoding="utf-8") as out:
            out.write(procedure)
        return short(found)
    looser, gained = loosen(procedure)
    if looser != procedure:
        broken += ["loosen: " + what for what in loosened(short(plain), under(looser, lines), gained)]
    if other_units(procedure) != procedure and under(other_units(procedure), lines) != short(plain):
        broken.append("units")
    for old, new in zip(short(plain), short(judge(program, folder, [wider(line) for line in lines], registers))):
        if old[2] == "unproven" and new[2] in ("met", "deviated"):
            broken.append(f"widen decides {old[0]}")
    again = said_again(lines)
    if again and short(judge(program, folder, again, registers)) != short(plain):
        broken.append("split")
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
