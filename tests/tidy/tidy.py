#!/usr/bin/env python3
"""Style as a test: tidy.py lengths | arrows | words | format. Exit 1 and one line an offender."""

import subprocess
import sys

import arrows
import lengths
import sources
import words

BY_FILE = {"lengths": lengths.check, "arrows": arrows.check, "words": words.check}
# Texts that are not ours to shape.
NOT_OURS = {"LICENSE"}


def files_to_check():
    for name, path in sources.walk():
        ending = "." + name.rsplit(".", 1)[-1]
        golden = "/golden/" in name or "/captures/" in name
        if ending in sources.TEXT_ENDINGS and name not in NOT_OURS and not golden:
            yield name, path


def check_format():
    """Files that clang-format 19 would change."""
    names = [name for name, _ in files_to_check() if name.endswith((".cpp", ".h"))]
    command = ["clang-format-19", "--dry-run", "-Werror", "--style=file"]
    try:
        run = subprocess.run(command + names, cwd=sources.TOP, capture_output=True, text=True,
                             check=False)
    except FileNotFoundError:
        return ["clang-format-19 is not installed: sh cmake/install.sh test"], len(names)
    bad = sorted({line.split(":")[0] for line in run.stderr.splitlines() if "error:" in line})
    found = [f"{name}: clang-format-19 -i {name}" for name in bad]
    if run.returncode != 0 and not found:
        found.append(run.stderr.strip())
    return found, len(names)


def main():
    if len(sys.argv) != 2 or sys.argv[1] not in (*BY_FILE, "format"):
        sys.exit("usage: tidy.py lengths | arrows | words | format")
    if sys.argv[1] == "format":
        found, count = check_format()
    else:
        check = BY_FILE[sys.argv[1]]
        found, count = [], 0
        for name, path in files_to_check():
            found += check(name, sources.read(path))
            count += 1
    for offender in found:
        print(offender)
    print(f"{sys.argv[1]}: {count} files, {len(found)} offenders")
    if count == 0:
        sys.exit("tidy.py found no file to check: it looks in the wrong place")
    sys.exit(1 if found else 0)


if __name__ == "__main__":
    main()
