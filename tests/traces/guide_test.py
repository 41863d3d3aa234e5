#!/usr/bin/python3
"""Every example of docs/procedures.md, run: a `textproto` block is the file, a `console` block a command and
what it says ("@" stands for any text); and its table of forms, held against the schema. Usage: guide_test.py PROGRAM"""

import os
import re
import subprocess
import sys
import tempfile

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))


def form_differences(page):
    """The page's table of forms against the schema: each form once, with all its fields and no others."""
    with open(os.path.join(ROOT, "proto", "fairlead", "v1", "procedure.proto"), encoding="utf-8") as file:
        schema = file.read()
    forms = {name: kind for kind, name in re.findall(r"^    (\w+) (\w+) = \d+;", schema, re.MULTILINE)}
    shown = {}
    for row in re.findall(r"^\| .*$", page, re.MULTILINE):
        for name, fields in re.findall(r"`(\w+) \{ ([^}]*) \}", row):
            shown[name] = {word.rstrip("?*") for word in fields.split() if word != "or"}
    wanted = {}
    for name, kind in forms.items():
        body = re.search(r"^message %s \{(.*?)\}" % kind, schema, re.MULTILINE | re.DOTALL).group(1)
        wanted[name] = set(re.findall(r"(\w+) = \d+;", body))
    return [f"the form {name}: the page has {shown.get(name)}, the schema {wanted.get(name)}"
            for name in sorted(wanted.keys() | shown.keys()) if wanted.get(name) != shown.get(name)]


def main(program):
    with open(os.path.join(ROOT, "docs", "procedures.md"), encoding="utf-8") as file:
        page = file.read()
    blocks = re.findall(r"```(textproto|console)\n(.*?)```", page, re.DOTALL)
    differences = form_differences(page)
    print("".join(f"{one}\n" for one in differences), end="")
    plain = {name: value for name, value in os.environ.items() if name != "COLUMNS"}
    wrong = commands = 0
    with tempfile.TemporaryDirectory() as folder:
        for name in ("tests", "clients"):
            os.symlink(os.path.join(ROOT, name), os.path.join(folder, name))
        for kind, text in blocks:
            if kind == "textproto":
                with open(os.path.join(folder, "driveway.textproto"), "w", encoding="utf-8") as out:
                    out.write(text)
                continue
            command, _, expected = text.partition("\n")
            words = command.removeprefix("$ fairlead ").split()
            done = subprocess.run([program] + words, cwd=folder, env=plain, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                                  text=True)
            said = sorted(done.stdout.splitlines())
            wanted = sorted(expected.splitlines())
            commands += 1
            fits = len(said) == len(wanted) and all(
                re.fullmatch(re.escape(want).replace("@", ".*"), got) for want, got in zip(wanted, said))
            if not fits:
                wrong += 1
                print(f"{command}\n  said:     {said}\n  expected: {wanted}")
    print(f"{commands - wrong} examples as they stand, {wrong} not")
    return 1 if wrong or differences or commands < 5 else 0


if __name__ == "__main__":
    sys.exit(main(os.path.abspath(sys.argv[1])))
