"""A bundle of a 10,000-entry job is checked in under 5 s of one processor and under 256 MiB.

Usage: big_bundle_test.py VERIFY MAKE_BUNDLE. Processor time, not the clock's: other work on the machine
does not count.
"""

import os
import subprocess
import sys
import tempfile

ENTRIES = 10_000


def main():
    verify, make = sys.argv[1:3]
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([make, folder, str(ENTRIES)], check=True)
        process = subprocess.Popen([verify, "check", f"{folder}/big.flb", "--policy", f"{folder}/big.policy"],
                                   stdout=subprocess.PIPE, text=True)
        words = process.stdout.read()
        _, status, used = os.wait4(process.pid, 0)
        size = os.path.getsize(f"{folder}/big.flb")
    seconds, mebibytes = used.ru_utime + used.ru_stime, used.ru_maxrss / 1024
    print(f"{ENTRIES} entries, {size / 2**20:.1f} MiB: {seconds:.2f} s, {mebibytes:.0f} MiB")
    assert os.waitstatus_to_exitcode(status) == 0, words[-2000:]
    assert "PROVEN and countersigned" in words, words[:500]
    assert f"nothing withheld of the job's {ENTRIES + 9} entries" in words, words[-2000:]
    assert seconds < 5 and mebibytes < 256, f"{seconds} s, {mebibytes} MiB"


if __name__ == "__main__":
    main()
