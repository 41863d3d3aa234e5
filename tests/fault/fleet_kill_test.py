#!/usr/bin/env python3
"""G4 and G5 with real processes: a base and five trucks, all sending, any of them killed with SIGKILL.

After each kill the base must hold what it had acknowledged; in the end every line is there exactly once,
nothing was taken for a restored or copied disk, and the whole ledger verifies. No outside source: these
are the record's own promises. Usage: fleet_kill_test.py BUILD_FOLDER [CYCLES] (FAIRLEAD_SEED: 1)
"""
import json
import os
import random
import shutil
import sys
import tempfile
import threading
import time

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from stand import Daemon, Stand  # noqa: E402

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
FLEET = os.path.join(ROOT, "clients", "sim", "fleet")
TRUCKS = 5


class Feeder:
    """A truck, and the lines it is fed: of each it is known whether the truck called it recorded."""

    def __init__(self, stand, program, folder, number):
        self.stand, self.name, self.job = stand, f"OW-2{number}", f"K-{number}"
        self.address = f"unix:{folder}/t{number}/truck.sock"
        self.daemon = Daemon(program, folder, f"truck{number}",
                             f'role = "truck"\nname = "{self.name}"\ndata = "t{number}"\n[truck]\n'
                             f'base = "{stand.base_address}"\nreconnect_longest_ms = 100\n')
        self.seq = 0

    def line(self, **what):
        self.seq += 1
        head = {"time": f"2026-11-18T07:48:{self.seq % 60:02d}Z", "job": self.job, "source": "operator",
                "seq": self.seq, "clock": "truck"}
        return json.dumps({**head, **what}) + "\n"

    def feed(self, lines):
        """Until the truck says that all of them are on record; it may be killed meanwhile."""
        deadline = time.time() + 60
        while time.time() < deadline:
            if self.stand.call("feed", "-", to=self.address, check=False, stdin=lines).returncode == 0:
                return
            time.sleep(0.05)
        raise AssertionError(f"{self.name} takes nothing\n" + open(self.daemon.log).read()[-1500:])

    def acked(self):
        done = self.stand.call("status", "--json", to=self.address, check=False)
        return int(json.loads(done.stdout)["ackedSeq"]) if done.returncode == 0 else 0


def held_at_base(stand):
    trucks = json.loads(stand.call("register", "trucks", "--json").stdout)["truck"]
    return {t["name"]: int(t["ackedSeq"]) for t in trucks}


def cycle(stand, fleet, number):
    """Everybody sends; after a while one of six, now and then two, dies and comes back."""
    feeders = [threading.Thread(target=t.feed, args=("".join(
        t.line(note={"text": f"line {number}.{i} of {t.name}"}) for i in range(6)),)) for t in fleet]
    for feeder in feeders:
        feeder.start()
    time.sleep(random.uniform(0, 0.25))
    acked = {t.name: t.acked() for t in random.sample(fleet, 2)}
    victims = random.sample([stand.base] + [t.daemon for t in fleet], random.choice((1, 1, 1, 2)))
    for victim in victims:
        victim.kill()
    for victim in victims:
        victim.start()
    for feeder in feeders:
        feeder.join()
    stand.wait("the base to answer", 20,
               lambda: stand.call("status", "--json", check=False).returncode == 0)
    held = held_at_base(stand)
    for name, upto in acked.items():
        assert held[name] >= upto, f"{name}: acknowledged {upto}, held after the kill {held[name]}"


def drained(stand, truck):
    own = json.loads(stand.call("status", "--json", to=truck.address).stdout)
    return own["ackedSeq"] == own["entries"] and held_at_base(stand)[truck.name] == int(own["entries"])


def check_all(stand, fleet):
    for truck in fleet:
        stand.wait(f"{truck.name}'s record to be at the base", 60, lambda t=truck: drained(stand, t))
        stand.wait("the job", 20, lambda t=truck: stand.call("job", "show", t.job, check=False).returncode == 0)
        shown = [json.loads(text) for text in json.loads(
            stand.call("job", "show", truck.job, "--lines", "--json").stdout)["line"]]
        got = sorted(line["seq"] for line in shown if line["source"] == "operator")
        assert got == list(range(1, truck.seq + 1)), f"{truck.name}: {len(got)} lines of {truck.seq}"
    for device in json.loads(stand.call("device", "list", "--json").stdout)["device"]:
        assert device["epoch"] == 1 and not device["suspended"], f"a false alarm: {device}"
    audit = json.loads(stand.call("ledger", "audit", "--json").stdout)
    assert audit["fault"] == [], audit["fault"]
    return audit["leaves"]


def main():
    programs, cycles = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 20
    seed = int(os.environ.get("FAIRLEAD_SEED", "1"))
    random.seed(seed)
    folder = tempfile.mkdtemp(prefix="fairlead_fleet_")
    stand = Stand(programs, folder, FLEET)
    program = os.path.join(programs, "bin", "fairleadd")
    fleet = [Feeder(stand, program, folder, n) for n in range(TRUCKS)]
    begun = time.time()
    try:
        stand.base.start()
        for truck in fleet:
            truck.daemon.start()
        for truck in fleet:
            stand.wait("the enrolment and the files", 30, lambda t=truck: json.loads(
                stand.call("status", "--json", to=t.address).stdout)["orders"] != "0")
        time.sleep(0.5)
        for truck in fleet:
            truck.feed(truck.line(opened={"procedures": ["load"], "vehicle": "hauberk",
                                          "truck": truck.name, "operator": "card-3f"}))
        for number in range(cycles):
            cycle(stand, fleet, number)
        leaves = check_all(stand, fleet)
        print(f"{cycles} cycles, {sum(t.seq for t in fleet)} lines of {TRUCKS} trucks all there once, "
              f"{leaves} entries whole, seed {seed}, {time.time() - begun:.0f} s")
    except BaseException:
        print(stand.logs(), file=sys.stderr)
        raise
    finally:
        stand.end()
        for truck in fleet:
            if truck.daemon.process and truck.daemon.process.poll() is None:
                truck.daemon.kill()
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
