#!/usr/bin/python3
"""Every example of docs/procedures.md, run: a `textproto` block is the file, a `console` block a command and
what it says ("@" stands for any text). Usage: guide_test.py PROGRAM"""

import os
import re
import subprocess
import sys
import tempfile

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))


def main(program):
    with open(os.path.join(ROOT, "docs", "procedures.md"), encoding="utf-8") as file:
        blocks = re.findall(r"```(textproto|console)\n(.*?)```", file.read(), re.DOTALL)
    wrong = commands = 0
    with tempfile.TemporaryDirectory() as folder:
        for name in ("tests", "clients"):
            os.symlink(os.path.join(ROOT, name), os.path.join(folder, name))
        for kind, text in blocks:
            if kind == "textproto":
                with open(os.path.join(folder, "reposition.textproto"), "w", encoding="utf-8") as out:
                    out.write(text)
                continue
            command, _, expected = text.partition("\n")
            words = command.removeprefix("$ fairlead ").split()
            done = subprocess.run([program] + words, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
            said = sorted(done.stdout.splitlines())
            wanted = sorted(expected.splitlines())
            commands += 1
            fits = len(said) == len(wanted) and all(
                re.fullmatch(re.escape(want).replace("@", ".*"), got) for want, got in zip(wanted, said))
            if not fits:
                wrong += 1
                print(f"{command}\n  said:     {said}\n  expected: {wanted}")
    print(f"{commands - wrong} examples as they stand, {wrong} not")
    return 1 if wrong or commands < 5 else 0


if __name__ == "__main__":
    sys.exit(main(os.path.abspath(sys.argv[1])))
