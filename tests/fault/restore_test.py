#!/usr/bin/env python3
"""G6 with real processes and folders put back as an owner would: a truck's, a copy of a truck, a base's.

Each is found at first contact, each goes on by the documented way back (docs/restore.md), nothing that was
acknowledged is lost, and the bundle of a job that lived through it verifies. No outside source: these are
the record's own promises. Usage: restore_test.py BUILD_FOLDER
"""
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from stand import Daemon, Stand  # noqa: E402

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
FLEET = os.path.join(ROOT, "clients", "sim", "fleet")
OPINION = os.path.join(ROOT, "tests", "unit", "verify", "second_opinion.py")
JOB = "K-1"


class World:
    def __init__(self, programs, folder):
        self.programs, self.folder, self.seq = programs, folder, 0
        self.stand = Stand(programs, folder, FLEET)
        self.stand.job = JOB
        self.fed = set()

    def path(self, name):
        return os.path.join(self.folder, name)

    def feed(self, count, to=None, **what):
        lines = ""
        for i in range(count):
            self.seq += 1
            self.fed.add(self.seq)
            line = {"time": f"2026-11-18T07:{48 + self.seq // 60}:{self.seq % 60:02d}Z", "job": JOB,
                    "source": "operator", "seq": self.seq, "clock": "truck"}
            lines += json.dumps({**line, **(what or {"note": {"text": f"line {self.seq}"}})}) + "\n"
        self.stand.call("feed", "-", "--wait", "20", to=to or self.stand.truck_address, stdin=lines)

    def drained(self, address=None):
        own = json.loads(self.stand.call("status", "--json", to=address or self.stand.truck_address).stdout)
        return own["connected"] and own["ackedSeq"] == own["entries"]

    def wait_drained(self, address=None):
        self.stand.wait("the truck's record to be at the base", 40, lambda: self.drained(address))

    def copy(self, name, to):
        shutil.rmtree(self.path(to), ignore_errors=True)
        shutil.copytree(self.path(name), self.path(to), ignore=shutil.ignore_patterns("*.sock"))

    def device(self):
        listed = json.loads(self.stand.call("device", "list", "--json").stdout)["device"]
        return next(d for d in listed if d["name"] == "OW-02")

    def lines(self):
        shown = json.loads(self.stand.call("job", "show", JOB, "--lines", "--json").stdout)["line"]
        return [line["seq"] for line in map(json.loads, shown) if line["source"] == "operator"]

    def check_lines(self):
        self.stand.wait("the job's lines", 20, lambda: self.fed <= set(self.lines()))

    def verify(self):
        """Exit code and words of the verifier over the job's bundle, under a policy pinned anew."""
        tool = os.path.join(self.programs, "bin", "fairlead-verify")
        roster = open(self.path("b/roster.note")).read()
        log = next(line[4:] for line in roster.splitlines() if line.startswith("log "))
        policy, bundle = self.path("policy"), self.path("job.flb")
        subprocess.run([tool, "pin", "--roster", self.path("b/roster.note"), "--log", log, "-o", policy],
                       check=True, capture_output=True)
        self.stand.call("job", "bundle", JOB, "-o", bundle)
        done = subprocess.run([tool, "check", bundle, "--policy", policy], capture_output=True, text=True)
        return done.returncode, done.stdout + done.stderr

    def expect_verified(self, *words):
        code, said = self.verify()
        assert code == 1, f"exit {code}: {said}"  # Proven, with notes.
        for word in words:
            assert word in said, f"'{word}' is not said:\n{said}"
        # The independent script judges what was brought in again, and later generations, too.
        second = subprocess.run(["/usr/bin/python3", "-B", OPINION, self.path("job.flb"), self.path("policy")],
                                capture_output=True, text=True)
        assert second.returncode == code, f"the second opinion: {second.returncode} {second.stdout}{second.stderr}"
        assert second.stdout.startswith("proven; "), second.stdout


def truck_put_back(world):
    stand = world.stand
    world.feed(5)
    world.wait_drained()
    stand.truck.stop()
    world.copy("t", "image")
    stand.truck.start()
    world.feed(20)
    world.wait_drained()
    stand.truck.kill()
    world.copy("image", "t")
    stand.proxy.down = True
    stand.truck.start()
    world.feed(4)  # Recorded from the older state on, before the base is reached.
    stand.proxy.down = False
    stand.wait("the new epoch", 30, lambda: world.device()["epoch"] == 2)
    world.wait_drained()
    world.feed(3)
    world.wait_drained()
    world.check_lines()
    assert not world.device()["suspended"]
    job = json.loads(stand.call("job", "show", JOB, "--json").stdout)["job"]
    assert job["recoveredLines"] >= 4, job
    world.expect_verified("brought in again", "was restored or lost")


def truck_copied(world):
    stand = world.stand
    stand.truck.stop()
    world.copy("t", "t2")
    program = os.path.join(world.programs, "bin", "fairleadd")
    twin = Daemon(program, world.folder, "twin",
                  'role = "truck"\nname = "OW-02"\ndata = "t2"\n[truck]\n'
                  f'base = "127.0.0.1:{stand.proxy.port}"\nreconnect_longest_ms = 200\n')
    twin_address = f"unix:{world.path('t2')}/truck.sock"
    try:
        stand.truck.start()
        stand.wait("the truck", 20, lambda: world.drained())
        twin.start()
        stand.wait("the fork", 30, lambda: world.device()["suspended"])
        stand.wait("both copies to call", 30, lambda: len(world.device().get("copy", [])) == 2)
        mark = json.loads(stand.call("status", "--json", to=stand.truck_address).stdout)["copy"]
        other = json.loads(stand.call("status", "--json", to=twin_address).stdout)["copy"]
        assert mark and other and mark != other
        world.feed(3)  # Recorded while nobody has chosen.
        stand.call("device", "decide", "--truck", "OW-02", "--copy", mark[:12], "--words", "the box in the cab")
        world.wait_drained()
        world.check_lines()
        assert not world.device()["suspended"] and world.device()["chosen"] == mark
        time.sleep(1)
        assert not json.loads(stand.call("status", "--json", to=twin_address).stdout)["connected"]
        world.expect_verified("was restored or lost")
    finally:
        if twin.process.poll() is None:
            twin.kill()


def base_put_back(world):
    stand = world.stand
    stand.base.stop()
    world.copy("b", "base-image")
    stand.base.start()
    world.wait_drained()
    world.feed(12)
    world.wait_drained()
    time.sleep(2.5)  # The truck gets to see a head above the image's.
    world.feed(1)
    world.wait_drained()
    stand.base.kill()
    world.copy("base-image", "b")
    stand.base.start()
    stand.wait("the base to find out", 30, lambda: stand.status(stand.base_address).get("frozen"))
    assert stand.call("ledger", "head", check=False).returncode != 0, "an older copy must sign nothing"
    stand.call("jobs")  # And goes on being read.
    stand.base.stop()
    done = subprocess.run([stand.base.program, "--config", stand.base.config, "--new-generation",
                           "the disk failed, a copy of the week before was put in"],
                          capture_output=True, text=True)
    assert done.returncode == 0 and "/fairlead/g2" in done.stdout, done.stdout + done.stderr
    stand.base.start()
    world.wait_drained()
    world.feed(3)
    world.wait_drained()
    world.check_lines()
    world.expect_verified("a new generation of the log begins", "of which this log keeps the first")


def main():
    programs = sys.argv[1]
    folder = tempfile.mkdtemp(prefix="fairlead_restore_")
    world = World(programs, folder)
    stand, begun = world.stand, time.time()
    try:
        stand.base.start()
        stand.truck.start()
        stand.wait_enrolled()
        stand.wait("the files in force", 20,
                   lambda: stand.status(stand.truck_address)["orders"] != "0")
        time.sleep(0.5)
        world.feed(1, opened={"procedures": ["load"], "vehicle": "hauberk", "truck": "OW-02",
                              "operator": "card-3f"})
        for way in (truck_put_back, truck_copied, base_put_back):
            way(world)
            print(f"{way.__name__}: well, {time.time() - begun:.0f} s", flush=True)
        audit = json.loads(stand.call("ledger", "audit", "--json").stdout)
        assert audit["fault"] == [], audit["fault"]
    except BaseException:
        print(stand.logs(), file=sys.stderr)
        raise
    finally:
        stand.end()
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
