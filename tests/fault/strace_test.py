#!/usr/bin/env python3
"""The record's promise G5 when system calls fail: strace makes the n-th write, pwrite64, fsync,
fdatasync, openat, rename or ftruncate of each thread fail with EIO or ENOSPC, or kills the process in
it. What was acknowledged is there, once, and the folder opens again by itself.

No outside source: the record's own promise. Usage: strace_test.py LEDGER_WRITER [ROUNDS [FIRST]]
Exit 77: strace is not here, or may not trace.
"""
import os
import random
import shutil
import subprocess
import sys
import tempfile

CALLS = ["write", "pwrite64", "fsync", "fdatasync", "openat", "rename", "ftruncate"]
FAULTS = ["error=EIO", "error=ENOSPC", "signal=SIGKILL"]


def can_trace():
    try:
        return subprocess.run(["strace", "-qq", "-o", "/dev/null", "true"], capture_output=True,
                              timeout=20).returncode == 0
    except FileNotFoundError:
        return False


def traced(writer, folder, seed, call, fault, when):
    """Runs the writer under the fault; gives its acknowledgements and exit code."""
    command = ["strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={call}", "-e",
               f"inject={call}:{fault}:when={when}", writer, folder, str(seed)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    return done.stdout, done.returncode


def main():
    writer = sys.argv[1]
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 21
    first = int(sys.argv[3]) if len(sys.argv) > 3 else 0
    if not can_trace():
        print("strace is not here, or may not trace: nothing was tested")
        return 77
    codes, acknowledged, hits = {}, 0, 0
    for number in range(first, first + rounds):
        call, fault = CALLS[number % 7], FAULTS[number // 7 % 3]
        chance = random.Random(number)
        folder = tempfile.mkdtemp(prefix="fairlead_strace_")
        try:
            # A ledger that has lived, then the fault, then what is left must open and be whole.
            acks, code = subprocess.run([writer, folder, str(number)], capture_output=True,
                                        text=True, timeout=120).stdout, 0
            for _ in range(2):
                # A program's start opens some thirty files before it comes to the ledger's.
                when = chance.randint(1, 60) if call == "openat" else chance.randint(1, 25)
                more, code = traced(writer, folder, chance.randint(1, 1 << 30), call, fault, when)
                acks += more
                codes[code] = codes.get(code, 0) + 1
                hits += code != 0
            checked = subprocess.run([writer, "--check", folder], input=acks, capture_output=True,
                                     text=True, timeout=120)
            assert checked.returncode == 0, \
                f"round {number}: {call} {fault}: {checked.stdout[-2000:]}{checked.stderr[-2000:]}"
            acknowledged += int(checked.stdout.split()[-1])
        finally:
            shutil.rmtree(folder, ignore_errors=True)
        if rounds > 50 and (number + 1) % 50 == 0:
            print(f"{number + 1 - first} of {rounds} rounds, {acknowledged} acknowledged", flush=True)
    assert hits > rounds // 4, f"the faults hardly ever hit: {codes}"
    print(f"{rounds} rounds of two faults, {hits} ended the process, {acknowledged} acknowledged entries, "
          "all there once")
    return 0


if __name__ == "__main__":
    sys.exit(main())
