#!/usr/bin/python3
"""Properties that need no expected value, on random jobs.

    /usr/bin/python3 tests/oracle/properties.py [JUDGE_MANY] [--random N] [--first SEED] [--jobs N]

order     lines in any order, some twice: the same bytes
shift     every time moved by the same span: the same verdicts and margins
lost      one line never arrives (a known gap): met never becomes deviated, nor deviated met
stranger  lines of a source no rule listens to: the same verdicts and margins
renamed   sources that only carry a name under other names: the same verdicts and margins
split     a line, or a reading, that only says again what already is so: the same verdicts and margins
loosen    a limit that allows more: its margins grow by exactly that, met never becomes deviated
units     a limit written in another unit: the same verdicts, margins the same but for the unit
widen     every line's own clock less sure: unproven never becomes decided
gaps, complete, clocks, clock errors, silent, certificate   what verdicts rest on: fillings.py
textbook  margins and verdicts by recursion over the whole trace: textbook.py
sane      bounds in order, signs by verdict, nothing where a rule does not apply
"""

import datetime
import json
import multiprocessing
import os
import random
import re
import sys
import tempfile

import compare
import fillings
import random_cases
import textbook
from naive_text import one, parse_text

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
sys.path.insert(0, os.path.join(ROOT, "tests", "traces"))
import run_cases  # noqa: E402


class Judge:
    """One judge_many process, one folder of its own; a case is the lines, under the procedure and register last given."""

    def __init__(self, program):
        self.batch, self.folder = compare.Batch(program), tempfile.TemporaryDirectory(
            dir="/dev/shm" if os.path.isdir("/dev/shm") else None)
        self.trace, self.procedure, self.register = (os.path.join(self.folder.name, n)
                                                     for n in ("trace.jsonl", "p.textproto", "r.textproto"))
        self.registers = []

    def under(self, procedure, register=None):
        for path, text in ((self.procedure, procedure), (self.register, register)):
            if text is not None:
                with open(path, "w", encoding="utf-8") as out:
                    out.write(text)
        if register is not None:
            self.registers = [self.register] if register else []

    def __call__(self, lines):
        with open(self.trace, "w", encoding="utf-8") as out:
            out.write("\n".join(lines) + "\n")
        found = self.batch.run(self.trace, [self.procedure], self.registers)
        if isinstance(found, str):
            raise RuntimeError(found)
        return found


def short(findings):
    return [[found[k] for k in ("rule", "applies", "verdict", "reason", "marginLo", "marginBest", "marginHi")]
            for found in findings]


def shifted(line):
    def move(match):
        stamp = datetime.datetime.fromisoformat(match.group(1)) + datetime.timedelta(hours=5, seconds=17)
        return f'"time":"{stamp.isoformat()}{match.group(2) or ""}Z"'
    return re.sub(r'"time":"([0-9T:-]{19})(\.\d+)?Z"', move, line)


# What a limit gains, in its own unit, and the places where such a limit stands.
LOOSER = [(re.compile(r'((?:follows_within|wait_between) \{[^}]*(?:within|at_most): ")(\d+) s"'), 7, " s"),
          (re.compile(r'(never_together \{[^}]*tolerate: ")(\d+) s"'), 7, " s"),
          (re.compile(r'(limit_in_phase \{[^}]*(?:under|at_most): ")(\d+) km/h"'), 3.6, " km/h"),
          (re.compile(r'(limit_in_phase \{[^}]*(?:under|at_most): ")(\d+) kN"'), 2, " kN"),
          (re.compile(r'(total_in_phase \{[^}]*(?:under|at_most): ")(\d+) m"'), 3, " m"),
          (re.compile(r'(count_limit \{[^}]*at_most: )(\d+)( )'), 1, "")]


def loosen(procedure):
    """The procedure with more allowed, and what each rule that gained has gained."""
    changed, gains = [], {}
    number = -1
    for line in procedure.split("\n"):
        if line.startswith("rule {"):
            number += 1
        elif "_of {" not in line:
            for pattern, more, unit in LOOSER:
                wider = pattern.sub(lambda m: f'{m.group(1)}{float(m.group(2)) + more:g}{unit}' + ('"' if unit else " "), line)
                if wider != line:
                    gains[f"r{number}"] = more
                    line = wider
                    break
        changed.append(line)
    return "\n".join(changed), gains


def loosened(before, after, gains):
    wrong = []
    for old, new in zip(before, after):
        if old[2] == "met" and new[2] == "deviated":
            wrong.append(f"{old[0]}: met became deviated")
        if old[0] not in gains or old[1] != "yes" or new[1] != "yes" or "unproven" in (old[2], new[2]):
            continue
        if old[5] is not None and new[5] is not None and abs(new[5] - old[5] - gains[old[0]]) > 1e-3:
            wrong.append(f"{old[0]}: {old[5]} became {new[5]}, {gains[old[0]]} more allowed")
    return wrong


def other_units(procedure):
    """Seconds as milliseconds: the times a rule prints stay seconds."""
    return re.sub(r'((?:within|at_least|at_most|min_gap|bridge|tolerate): ")(\d+) s"', lambda m: f'{m.group(1)}{m.group(2)}000 ms"',
                  procedure)


SMALLER = {"kN": ("N", 1000), "m/s": ("mm/s", 1000), "m": ("mm", 1000)}


def smaller_units(procedure):
    """Limits in a smaller unit, which their margins are then printed in; None where there is none."""
    def turned(match):
        unit, factor = SMALLER[match.group(3)]
        return f'{match.group(1)}{float(match.group(2)) * factor:.0f} {unit}"'
    text = re.sub(r'((?:under|at_most): ")([0-9.]+) (kN|m/s|m)"', turned, procedure)
    return None if text == procedure else text


def in_smaller(before, after):
    """Rules whose verdict, or margin but for the unit, is another."""
    wrong = []
    for old, new in zip(before, after):
        same = old[:4] == new[:4]
        for a, b in zip(old[4:], new[4:]):
            same = same and (a is None) == (b is None) and (a is None or min(abs(b - a), abs(b - 1000 * a)) < 1e-6 + abs(b) * 1e-9)
        if not same:
            wrong.append(f"smaller units: {old} became {new}")
    return wrong


RENAMED = {"clamp": "jaws.left", "line": "winch.9", "probe.a": "probe.x", "probe.b": "probe.y"}


def renamed(lines):
    """Sources that have no name of their own meaning under other names; None where there is none, or where one instant has several."""
    rows = [json.loads(line) for line in lines]
    if not any(row["source"] in RENAMED for row in rows):
        return None
    times = [row["time"] for row in rows if row["source"] in RENAMED]
    if len({(row["time"]) for row in rows}) != len(rows) and len(set(times)) != len({row["time"] for row in rows}):
        by_time = {}
        for row in rows:
            by_time.setdefault(row["time"], set()).add(row["source"])
        if any(len(sources) > 1 for sources in by_time.values()):
            return None  # at one instant the names give the order
    for row in rows:
        row["source"] = RENAMED.get(row["source"], row["source"])
        if "undo" in row:
            row["undo"]["source"] = RENAMED.get(row["undo"]["source"], row["undo"]["source"])
    return [json.dumps(row, separators=(",", ":")) for row in rows]


def held_twice(lines, rng):
    """A reading said once more halfway to the next one of its source; later ones numbered on."""
    rows = [json.loads(line) for line in lines]
    kinds = ("fix", "sample")
    places = [i for i, row in enumerate(rows) if any(k in row for k in kinds) and row.get("quality", "GOOD") == "GOOD"]
    rng.shuffle(places)
    for i in places:
        row = rows[i]
        later = [r for r in rows if r["source"] == row["source"] and r["seq"] == row["seq"] + 1]
        if not later or row.get("sample", {}).get("signal") == "line.out" or "clock" in row and row["clock"] != "truck":
            continue
        a, b = (datetime.datetime.fromisoformat(r["time"].replace("Z", "+00:00")) for r in (row, later[0]))
        if not datetime.timedelta(milliseconds=20) <= b - a <= datetime.timedelta(seconds=2):
            continue
        again = dict(row, time=(a + (b - a) / 2).strftime("%Y-%m-%dT%H:%M:%S.%fZ"))
        for other in rows:
            if other["source"] == row["source"] and other["seq"] > row["seq"]:
                other["seq"] += 1
        again["seq"] = row["seq"] + 1
        return [json.dumps(r, separators=(",", ":")) for r in rows + [again]]
    return None


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
    if not words or any(row["source"] == "desk" for row in rows) or len(words) != len([row for row in rows if "scene" in row and row["source"] == "operator"]):
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


def forms_of(procedure):
    # What opened a rule's while_phase is not among its citations.
    return {one(rule, "id"): next((k for k in rule if k in compare.naive_judge.FORMS), "")
            for rule in parse_text(procedure)["rule"] if "while_phase" not in rule}


def basic(judge, lines, procedure, register, rng, plain):
    broken = []
    mixed = lines + rng.sample(lines, min(5, len(lines)))
    rng.shuffle(mixed)
    if judge(mixed) != plain:
        broken.append("order")
    # Gear is in date by the day, and jobs about it stand at the turn of one.
    if "in_service" not in register and short(judge([shifted(line) for line in lines])) != short(plain):
        broken.append("shift")
    if short(judge(lines + strangers(lines))) != short(plain):
        broken.append("stranger")
    for found in plain:
        broken += [f"{found['rule']} not sane: {what}" for what in run_cases.sane(found)]
    looser, gained = loosen(procedure)
    for text, name in ((looser, "loosen"), (other_units(procedure), "units")):
        if text == procedure:
            continue
        judge.under(text)
        changed = short(judge(lines))
        judge.under(procedure)
        if name == "loosen":
            # Where lines are missing a longer limit may reach into a gap, and another occasion is the worst.
            broken += ["loosen: " + what for what in loosened(short(plain), changed, {} if random_cases.lost_lines(lines) else gained)]
        elif changed != short(plain):
            broken.append("units")
    if (text := smaller_units(procedure)) is not None:
        judge.under(text)
        broken += in_smaller(short(plain), short(judge(lines)))
        judge.under(procedure)
    other = renamed(lines)
    if other and short(judge(other)) != short(plain):
        broken.append("renamed")
    for old, new in zip(short(plain), short(judge([wider(line) for line in lines]))):
        if old[2] == "unproven" and new[2] in ("met", "deviated"):
            broken.append(f"widen decides {old[0]}")
    again = None if random_cases.lost_lines(lines) else said_again(lines)
    if again and short(judge(again)) != short(plain):
        broken.append("split")
    twice = None if random_cases.lost_lines(lines) else held_twice(lines, rng)
    if twice and short(judge(twice)) != short(plain):
        broken.append("split reading")
    return broken


def lost(judge, lines, rng, plain):
    broken = []
    inner = [i for i, line in enumerate(lines) if not any(f'"{k}"' in line for k in ("opened", "closed", "abandoned"))]
    words = [i for i in inner if '"sample"' not in lines[i] and '"fix"' not in lines[i]]
    readings = [i for i in inner if i not in set(words)]
    for gone in rng.sample(words, min(3, len(words))) + rng.sample(readings, min(2, len(readings))):
        source = json.loads(lines[gone])["source"]
        own = [i for i in inner if json.loads(lines[i])["source"] == source]
        if gone in (own[0], own[-1]) and source != "operator":
            continue  # the first seq seen is a source's start, and nothing tells of a lost last line
        rest = lines[:gone] + lines[gone + 1:]
        for rule in flipped(short(plain), short(judge(rest))):
            broken.append(f"lost line {gone + 1} flips {rule}")
    return broken


def check(judge, seed, counts):
    family, lines, procedure, register = random_cases.make(seed)
    judge.under(procedure, register)
    rng = random.Random(seed)
    plain = judge(lines)
    own = any(family == one_of.__name__ for one_of in random_cases.FAMILIES if one_of is not None)
    broken = basic(judge, lines, procedure, register, rng, plain)
    broken += lost(judge, lines, rng, plain)
    broken += fillings.silent(judge, lines, plain)
    if family == "clock_family":
        broken += fillings.clocks(judge, lines)
    if family in ("clocks_family", "lost_clocks_family"):
        for key, value in zip(("agreed by clock", "decided by clock"), (found := fillings.clock_errors(judge, lines, plain))[:2]):
            counts[key] = counts.get(key, 0) + value
        broken += found[2]
    if seed % 4 == 0:
        agreed, undecided, wrong = fillings.complete(judge, random.Random(seed))
        judge.under(procedure, register)
        counts["agreed of small"] = counts.get("agreed of small", 0) + agreed
        broken += wrong
        counts["of small undecided"] = counts.get("of small undecided", 0) + (undecided is not None)
    whole = not random_cases.lost_lines(lines)
    if whole and family in ("order_family", "boost_family", "strength_family", "recheck_family", "speed_family", "pull_family"):
        for key, value in zip(("filled", "agreed", "decided"), (found := fillings.gaps(judge, lines, rng))[:3]):
            counts[key] = counts.get(key, 0) + value
        broken += found[3]
    # A pull's own readings open its phase, and a counter's speed joins many: more than four lines.
    if own and whole and family not in ("burst_family", "clock_family", "total_family", "claim_family", "pull_family", "rope_speed_family"):
        compared, wrong = fillings.certificate(judge, lines, forms_of(procedure), plain)
        counts["certificates"] = counts.get("certificates", 0) + compared
        broken += wrong
    if whole and family in ("order_family", "boost_family", "speed_family", "recheck_family") and "SUSPECT" not in "".join(lines):
        compared, wrong = textbook.check(lines, procedure, plain)
        counts["textbook"] = counts.get("textbook", 0) + compared
        broken += wrong
    return [f"seed {seed} {family}: {what}" for what in broken]


def part(arguments):
    """Seeds in a process of its own."""
    program, seeds = arguments
    judge, counts, found = Judge(program), {}, []
    for seed in seeds:
        found += check(judge, seed, counts)
    return counts, found


def main(arguments):
    program, count, first, jobs = os.path.join(ROOT, "build/release/tests/oracle/judge_many"), 120, 1, 1
    while arguments:
        key = arguments.pop(0)
        if key in ("--random", "--first", "--jobs"):
            value = int(arguments.pop(0))
            count, first, jobs = (value if key == name else old for name, old in
                                  (("--random", count), ("--first", first), ("--jobs", jobs)))
        else:
            program = os.path.abspath(key)
    counts, words = {}, []
    with multiprocessing.Pool(jobs) as pool:
        for more, found in pool.imap_unordered(part, [(program, range(first + i, first + count, jobs)) for i in range(jobs)]):
            words += found
            for key, value in more.items():
                counts[key] = counts.get(key, 0) + value
    for text in words:
        print(text)
    bad = len({text.split(":")[0] for text in words})
    print(f"{count - bad} hold, {bad} broken; " + ", ".join(f"{value} {key}" for key, value in sorted(counts.items())))
    enough = all(counts.get(key) for key in ("filled", "agreed", "decided", "certificates", "textbook"))
    return 1 if bad or not enough else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
