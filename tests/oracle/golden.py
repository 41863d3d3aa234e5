#!/usr/bin/python3
"""The corpus under the meaning of its rules: tests/traces/golden.txt holds one digest a case.

    /usr/bin/python3 tests/oracle/golden.py JUDGE_MANY           compare; 1 if a case's findings changed
    /usr/bin/python3 tests/oracle/golden.py JUDGE_MANY --write   write the list anew

A digest is over what a finding says (said.py). One that changed means that the same lines are judged
otherwise: raise kMeaning (daemon/judge/meaning.h), say there what changed, and write this list and
random_pins.txt (random_pins.py) anew.
"""

import os
import re
import sys

import compare
import said

GOLDEN = os.path.join(compare.TRACES, "golden.txt")


def digests(program):
    judge, out, meanings = compare.Batch(program), {}, set()
    for case, procedures, registers in compare.cases(naive=False):
        found = judge.run(os.path.join(compare.TRACES, case, "trace.jsonl"), procedures, registers)
        if isinstance(found, str):
            sys.exit(f"{case}: {found}")
        meanings |= {finding["meaning"] for finding in found}
        out[case] = said.digest(found)[:32]
    judge.process.stdin.close()
    judge.process.wait()
    return meanings, out


def main(arguments):
    meanings, found = digests(arguments[0])
    with open(os.path.join(compare.ROOT, "daemon", "judge", "meaning.h"), encoding="utf-8") as file:
        meaning = int(re.search(r"kMeaning = (\d+);", file.read()).group(1))
    if meanings != {meaning}:
        sys.exit(f"findings say meaning {meanings}, daemon/judge/meaning.h says {meaning}")
    text = f"meaning {meaning}\n" + "".join(f"{found[case]} {case}\n" for case in sorted(found))
    if arguments[1:] == ["--write"]:
        with open(GOLDEN, "w", encoding="utf-8") as file:
            file.write(text)
        return 0
    with open(GOLDEN, encoding="utf-8") as file:
        lines = file.read().splitlines()
    golden = dict(reversed(line.split()) for line in lines[1:])
    if lines[0] != f"meaning {meaning}":
        print(f"golden.txt is of {lines[0]}, the judge of meaning {meaning}: write it anew with --write")
        return 1
    changed = [case for case in found if case in golden and golden[case] != found[case]]
    for case in changed:
        print(f"{case}: its findings are others than under meaning {meaning} before; see the head of tests/oracle/golden.py")
    for case in sorted(set(found) ^ set(golden)):
        print(f"{case}: not in both the corpus and golden.txt; write it anew with --write")
    print(f"{len(found)} cases, {len(changed)} changed, meaning {meaning}")
    return 0 if found == golden else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
