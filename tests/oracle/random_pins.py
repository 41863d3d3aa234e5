#!/usr/bin/python3
"""The random cases of the tests under the meaning of the judge's rules: random_pins.txt holds six hexadecimal digits a case.

    /usr/bin/python3 -B tests/oracle/random_pins.py JUDGE_MANY [--jobs N]     writes the list anew

compare.py holds each case it judges against the list. The naive evaluator says what is right of verdicts and
margins; the list says that evidence, instants and bases, which it does not know, are what they were. A pin that
changed means what a digest of golden.txt means that changed (see golden.py): write both anew.
"""

import multiprocessing
import os
import sys
import tempfile

import compare
import random_cases
import said

A_LINE = 20


def pins_of(task):
    program, seeds = task
    judge = compare.Batch(program)
    with tempfile.TemporaryDirectory() as folder:
        found = []
        for seed in seeds:
            _, lines, procedure, register = random_cases.make(seed)
            out = judge.run(*compare.write(folder, 0, lines, procedure, register))
            if isinstance(out, str):
                sys.exit(f"seed {seed}: {out}")
            found.append(said.pin(out))
    judge.process.stdin.close()
    judge.process.wait()
    return found


def main(arguments):
    program, jobs = arguments[0], int(arguments[2]) if arguments[1:2] == ["--jobs"] else os.cpu_count()
    parts = [range(start, start + min(A_LINE, first + most - start)) for first, most in random_cases.TESTED.items()
             for start in range(first, first + most, A_LINE)]
    with multiprocessing.Pool(jobs) as pool:
        found = pool.map(pins_of, [(program, seeds) for seeds in parts], 25)
    with open(said.PINS, "w", encoding="utf-8") as out:
        for seeds, some in zip(parts, found):
            out.write(f"{seeds[0]} {' '.join(some)}\n")
    print(f"{sum(map(len, found))} pins")


if __name__ == "__main__":
    main(sys.argv[1:])
