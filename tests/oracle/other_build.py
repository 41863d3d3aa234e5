#!/usr/bin/python3
"""judge_many once more, by another compiler and optimising otherwise, beside a build that is there.

    /usr/bin/python3 tests/oracle/other_build.py BUILD OUT COMPILER [FLAG ...]

Compiles the sources of ours whose objects BUILD's judge_many links, with BUILD's flags but for the compiler and
the FLAGs (which come last), into OUT, and links them with BUILD's libraries (generated messages, protobuf,
crypto: no arithmetic of the judge). COMPILER may be several words. What is newer than its source stays.
"""

import os
import re
import shlex
import subprocess
import sys


def run(words, folder):
    done = subprocess.run(words, cwd=folder, capture_output=True, text=True)
    if done.returncode:
        sys.exit(" ".join(words) + "\n" + done.stdout + done.stderr)
    return done.stdout + done.stderr


def linked_members(link, folder):
    """Objects that the link takes out of the archives, as NAME.cpp.o with their archive."""
    text = run(["sh", "-c", link.replace(" -o tests/oracle/judge_many ", " -o /dev/null -Wl,-t ")], folder)
    return set(re.findall(r"\(?([\w/.-]+\.a)[)(]([\w.-]+\.o)\)?", text))


def main(arguments):
    build, out, compiler, flags = os.path.abspath(arguments[0]), os.path.abspath(arguments[1]), shlex.split(arguments[2]), arguments[3:]
    commands = run(["ninja", "-t", "commands", "tests/oracle/judge_many"], build).splitlines()
    link = commands[-1]
    members = {(os.path.dirname(archive), name) for archive, name in linked_members(link, build)}
    os.makedirs(out, exist_ok=True)
    objects = []
    for command in commands:
        words = shlex.split(command)
        if "-c" not in words or words[-1].startswith(build):
            continue
        made, source = words[words.index("-o") + 1], words[-1]
        folder = made.split("/CMakeFiles/")[0]
        if not source.endswith("judge_many.cpp") and (folder, os.path.basename(made)) not in members:
            continue
        target = os.path.join(out, made.replace("/", "_"))
        objects.append(target)
        words = words[next(i for i, word in enumerate(words) if word.startswith("-")):]
        words = [word for word in words if not word.startswith(("-W", "-MD", "-O"))]
        for key in ("-MT", "-MF", "-o"):
            place = words.index(key) if key in words else None
            if place is not None:
                del words[place:place + 2]
        mark = target + ".command"
        text = " ".join(compiler + flags + words)
        fresh = os.path.exists(target) and os.path.exists(mark) and open(mark, encoding="utf-8").read() == text and \
            os.path.getmtime(target) > max(os.path.getmtime(source), os.path.getmtime(os.path.join(build, made)))
        if not fresh:
            run(compiler + words[:-2] + flags + ["-w", "-o", target] + words[-2:], build)
            with open(mark, "w", encoding="utf-8") as file:
                file.write(text)
    if len(objects) < 40:
        sys.exit(f"only {len(objects)} objects: the link of judge_many was not understood")
    libraries = [word for word in shlex.split(link) if word.startswith("-l") or word.endswith((".a", ".so")) or ".so." in word]
    run(compiler[-1:] + objects + libraries + ["-o", os.path.join(out, "judge_many")], build)
    print(f"{out}/judge_many: {len(objects)} objects by {' '.join(compiler[-1:] + flags)}")


if __name__ == "__main__":
    main(sys.argv[1:])
