#!/usr/bin/python3
"""The same bytes from every build: judge_many programs over the corpus and random jobs.

    /usr/bin/python3 tests/oracle/same_bytes.py CASES JUDGE_MANY JUDGE_MANY ...

A program may have arguments: with "JUDGE_MANY --live" as one of them, a job judged while it runs is held
against all of its lines judged at once.
"""

import hashlib
import os
import shlex
import subprocess
import sys
import tempfile

import compare
import random_cases


def case_lines(folder, count):
    for case, procedures, registers in compare.cases():
        files = []
        for path in registers:
            files += sorted(os.path.join(path, f) for f in os.listdir(path) if f.endswith(".textproto")) \
                if os.path.isdir(path) else [path]
        yield "\t".join([os.path.join(compare.TRACES, case, "trace.jsonl"), ",".join(procedures)] + files)
    for seed in range(1, count + 1):
        _, lines, procedure, register = random_cases.make(seed)
        trace, procedures, registers = compare.write(folder, seed, lines, procedure, register)
        yield "\t".join([trace] + procedures + registers)


def main(arguments):
    count, programs = int(arguments[0]), arguments[1:]
    if len(programs) < 2:
        print("give two programs or more")
        return 1
    with tempfile.TemporaryDirectory() as folder:
        given = "".join(line + "\n" for line in case_lines(folder, count)).encode()
        outputs = {}
        for program in programs:
            done = subprocess.run(shlex.split(program), input=given, stdout=subprocess.PIPE, check=True)
            outputs[program] = done.stdout
            print(f"{hashlib.sha256(done.stdout).hexdigest()[:16]} {len(done.stdout)} bytes {program}")
    same = len(set(outputs.values())) == 1 and len(next(iter(outputs.values()))) > 1000
    print("the same bytes" if same else "THE BYTES DIFFER")
    return 0 if same else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
