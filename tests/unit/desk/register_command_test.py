#!/usr/bin/python3
"""`fairlead register put FOLDER` and `export FOLDER` against a real base: what went in comes out to the
byte (the files in the source tree are themselves the reference), nothing written over, no folder
without register files taken."""

import filecmp
import os
import pathlib
import subprocess
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent.parent / "fault"))
from stand import Daemon, free_port  # noqa: E402

PROGRAMS = sys.argv[1]
FLEET = HERE.parents[2] / "clients" / "sim" / "fleet"
PROCEDURES = HERE.parents[2] / "daemon" / "judge" / "procedures"


def holds(what, condition):
    if not condition:
        raise AssertionError(what)


def register(address, *words):
    done = subprocess.run([os.path.join(PROGRAMS, "fairlead"), "register", *words],
                          env=dict(os.environ, FAIRLEAD_BASE=address), capture_output=True, text=True,
                          timeout=60)
    return done.returncode, done.stdout, done.stderr


def there_and_back(address, out):
    names = sorted(path.name for path in FLEET.glob("*.textproto"))
    holds("a fleet to put", len(names) >= 5)
    code, said, wrong = register(address, "put", str(FLEET))
    holds(f"put: {code} {wrong}", code == 0)
    holds(f"each once, in order of name: {said}", [line.split()[1] for line in said.splitlines()] == names)
    code, said, wrong = register(address, "export", str(out))
    holds(f"export: {code} {wrong}", code == 0)
    # A base begins with the shipped procedures in force: those come out too, and nothing else.
    sources = {path.name: path for place in (FLEET, PROCEDURES) for path in place.glob("*.textproto")}
    holds("all of the fleet and some procedures", set(names) < set(os.listdir(out)) <= set(sources))
    holds("one line a file", len(said.splitlines()) == len(os.listdir(out)))
    for name in os.listdir(out):
        holds(f"{name} to the byte", filecmp.cmp(sources[name], out / name, shallow=False))
    # The same again changes nothing, here or there.
    holds("export over the same files", register(address, "export", str(out))[0] == 0)
    code, said, _ = register(address, "put", str(out))
    holds(f"in force before: {said}", code == 0 and said.count("in force before") == len(os.listdir(out)))


def refuses_other_content(address, out):
    mine = out / "gear.textproto"
    mine.write_bytes(b"# mine\n")
    code, _, wrong = register(address, "export", str(out))
    holds(f"refused, naming the file: {code} {wrong}", code != 0 and str(mine) in wrong)
    holds("not written over", mine.read_bytes() == b"# mine\n")


def refuses_folder_without_files(address, folder):
    (folder / "README.md").write_text("no register here\n")
    before = register(address, "list")[1]
    code, said, wrong = register(address, "put", str(folder))
    holds(f"refused, naming the folder: {code} {wrong}", code != 0 and not said and str(folder) in wrong)
    holds("and says what it looked for", ".textproto" in wrong)
    holds("nothing put", before and register(address, "list")[1] == before)


with tempfile.TemporaryDirectory() as place:
    folder = pathlib.Path(place)
    address = f"127.0.0.1:{free_port()}"
    base = Daemon(os.path.join(PROGRAMS, "fairleadd"), place, "base",
                  f'name = "ozzlewick"\ndata = "b"\nlisten = "{address}"\n').start()
    try:
        there_and_back(address, folder / "backup")
        refuses_other_content(address, folder / "backup")
        (folder / "empty").mkdir()
        refuses_folder_without_files(address, folder / "empty")
    finally:
        base.kill()
print("put and export agree")
