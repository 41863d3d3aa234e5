#!/usr/bin/python3
"""judge_many once more, by another compiler and optimising otherwise, beside a build that is there.

    /usr/bin/python3 tests/oracle/other_build.py BUILD OUT COMPILER [FLAG ...]

Compiles the sources of ours whose objects BUILD's judge_many links, with BUILD's flags but for the compiler and
the FLAGs (which come last), into OUT, and links them with BUILD's libraries (generated messages, protobuf,
crypto: no arithmetic of the judge). COMPILER may be several words. What is newer than its source and than BUILD's
own object stays.
"""

import concurrent.futures
import os
import re
import shlex
import subprocess
import sys

LEAST_OBJECTS = 40


def run(words, folder):
    done = subprocess.run(words, cwd=folder, capture_output=True, text=True)
    if done.returncode:
        sys.exit(" ".join(words) + "\n" + done.stdout + done.stderr)
    return done.stdout + done.stderr


def linked_members(link, folder):
    """(folder, NAME.cpp.o) of each object that the link takes out of an archive."""
    text = run(["sh", "-c", link.replace(" -o tests/oracle/judge_many ", " -o /dev/null -Wl,-t,-t ")], folder)
    return {(os.path.dirname(archive), name) for archive, name in re.findall(r"\(?([\w/.-]+\.a)[)(]([\w.-]+\.o)\)?", text)}


def flags_of(words):
    """The compiler's arguments less what this build does otherwise, and less what is about files."""
    kept, skip = [], False
    for word in words[next(i for i, word in enumerate(words) if word.startswith("-")):-2]:
        if skip or word in ("-MT", "-MF", "-o"):
            skip = not skip
        elif not word.startswith(("-W", "-MD", "-O", "-g")):
            kept.append(word)
    return kept


class Other:
    def __init__(self, build, out, compiler, flags):
        self.build, self.out, self.compiler, self.flags = build, out, compiler, flags

    def compile(self, command):
        """The object of one command of BUILD."""
        words = shlex.split(command)
        made, source = words[words.index("-o") + 1], words[-1]
        target = os.path.join(self.out, made.replace("/", "_"))
        line = self.compiler + flags_of(words) + self.flags + ["-w", "-o", target, "-c", source]
        mark = target + ".command"
        if os.path.exists(target) and os.path.exists(mark):
            with open(mark, encoding="utf-8") as file:
                same = file.read() == " ".join(line)
            inputs = (os.path.join(self.build, source), os.path.join(self.build, made))
            if same and os.path.getmtime(target) > max(map(os.path.getmtime, inputs)):
                return target
        run(line, self.build)
        with open(mark, "w", encoding="utf-8") as file:
            file.write(" ".join(line))
        return target


def main(arguments):
    other = Other(os.path.abspath(arguments[0]), os.path.abspath(arguments[1]), shlex.split(arguments[2]), arguments[3:])
    commands = run(["ninja", "-t", "commands", "tests/oracle/judge_many"], other.build).splitlines()
    link = commands[-1]
    members = linked_members(link, other.build)

    def ours(command):
        words = shlex.split(command)
        if "-c" not in words or os.path.abspath(os.path.join(other.build, words[-1])).startswith(other.build + os.sep):
            return False
        made = words[words.index("-o") + 1]
        return words[-1].endswith("judge_many.cpp") or (made.split("/CMakeFiles/")[0], os.path.basename(made)) in members

    chosen = [command for command in commands if ours(command)]
    if len(chosen) < LEAST_OBJECTS:
        sys.exit(f"only {len(chosen)} objects: the link of judge_many was not understood")
    os.makedirs(other.out, exist_ok=True)
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        objects = list(pool.map(other.compile, chosen))
    libraries = [word for word in shlex.split(link) if word.startswith("-l") or word.endswith((".a", ".so")) or ".so." in word]
    program = os.path.join(other.out, "judge_many")
    run(other.compiler[-1:] + objects + libraries + ["-o", program], other.build)
    print(f"{program}: {len(objects)} objects by {' '.join(other.compiler[-1:] + other.flags)}")


if __name__ == "__main__":
    main(sys.argv[1:])
