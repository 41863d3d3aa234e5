#!/usr/bin/env python3
"""The record's promise G9 on a small file system that fills and is freed: a real base refuses photos,
then entries, says so in its record, and takes in again by itself. Nothing acknowledged is lost, nobody
has to repair anything.

No outside source: the record's own promise. A 64 MiB ext4 image on a loop device needs root; without
it the same on a tmpfs in a namespace of its own; where neither may be mounted, exit 77.
Usage: disk_test.py BUILD_FOLDER [ROUNDS]
"""
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from stand import Daemon, free_port  # noqa: E402

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
TRACE = os.path.join(ROOT, "tests", "traces", "J-104", "trace.jsonl")
SIZE_MIB = 64
MIB = 1 << 20


def run(*command):
    return subprocess.run(command, capture_output=True, text=True)


def mount(image, point):
    """'loop', 'tmpfs', or None when nothing may be mounted."""
    with open(image, "wb") as out:
        out.truncate(SIZE_MIB * MIB)
    made = shutil.which("mkfs.ext4", path=os.environ.get("PATH", "") + ":/sbin:/usr/sbin")
    if made and run(made, "-q", "-m", "0", image).returncode == 0 and \
            run("mount", "-o", "loop", image, point).returncode == 0:
        return "loop"
    if run("mount", "-t", "tmpfs", "-o", f"size={SIZE_MIB}m", "none", point).returncode == 0:
        return "tmpfs"
    return None


class SmallDisk:
    def __init__(self, programs, folder, point):
        self.client = os.path.join(programs, "bin", "fairlead")
        self.address = f"127.0.0.1:{free_port()}"
        self.point = point
        self.base = Daemon(os.path.join(programs, "bin", "fairleadd"), folder, "base",
                           f'name = "ozzlewick"\ndata = "{point}/b"\nlisten = "{self.address}"\n'
                           "[disk]\nattachments_mib = 24\nattachments_percent = 50\nentries_mib = 10\n"
                           "entries_percent = 40\nballast_mib = 4\nlook_every_ms = 50\n")

    def call(self, *arguments):
        environment = dict(os.environ, FAIRLEAD_BASE=self.address)
        return subprocess.run([self.client, *arguments], env=environment, capture_output=True, text=True,
                              timeout=60)

    def status(self):
        return json.loads(self.call("status", "--json").stdout)["disk"]

    def wait(self, what, condition):
        deadline = time.time() + 30
        while time.time() < deadline:
            if condition():
                return
            time.sleep(0.05)
        raise AssertionError(f"waited 30 s for {what}: {self.status()}\n{open(self.base.log).read()[-3000:]}")

    def fill_until(self, free_mib):
        """A file of somebody else's takes all but so much of the disk."""
        info = os.statvfs(self.point)
        take = info.f_bavail * info.f_frsize - free_mib * MIB
        with open(os.path.join(self.point, f"filler-{time.monotonic_ns()}"), "wb") as out:
            while take > 0:
                try:
                    take -= out.write(b"x" * min(take, MIB))
                    out.flush()
                except OSError:
                    return

    def free_all(self):
        for name in os.listdir(self.point):
            if name.startswith("filler-"):
                os.unlink(os.path.join(self.point, name))

    def job_lines(self, number):
        """The same job under another name, as a file."""
        path = os.path.join(os.path.dirname(self.base.config), "lines.jsonl")
        with open(path, "w") as out:
            for text in open(TRACE):
                line = json.loads(text)
                if line.get("job"):
                    line["job"] = f"T-{number}"
                out.write(json.dumps(line) + "\n")
        return path


def one_round(disk, number):
    """Filled to the brim and freed; the job fed before and after is there whole."""
    first, photo = disk.job_lines(2 * number), os.path.join(os.path.dirname(disk.base.config), "photo.jpg")
    with open(photo, "wb") as out:
        out.write(os.urandom(20_000))
    fed = disk.call("feed", first, "--json")
    assert fed.returncode == 0, fed.stderr
    recorded = json.loads(fed.stdout)["recorded"]
    attach = ("attach", f"T-{2 * number}", photo, "--view", "front", "--media-type",
              "image/jpeg")
    disk.fill_until(18)
    disk.wait("photos to be refused", lambda: disk.status()["refusesAttachments"])
    refused = disk.call(*attach)
    assert refused.returncode != 0 and "photos" in refused.stderr, refused.stderr
    disk.fill_until(5)
    disk.wait("entries to be refused", lambda: disk.status()["refusesEntries"])
    assert not os.path.exists(os.path.join(disk.point, "b", "ballast")), "the ballast was not freed"
    second = disk.job_lines(2 * number + 1)
    refused = disk.call("feed", second)
    assert refused.returncode != 0 and "entries cannot be taken in" in refused.stderr, refused.stderr
    assert disk.call("ledger", "head").returncode == 0, "proofs must be served"
    disk.fill_until(0)  # Not a byte is left.
    time.sleep(0.3)
    disk.free_all()
    disk.wait("room again", lambda: not disk.status()["refusesAttachments"])
    # What the full disk held up goes first, within seconds; then new lines are taken.
    disk.wait("lines to be taken again", lambda: disk.call("feed", second, "--json").returncode == 0)
    for job in (2 * number, 2 * number + 1):
        shown = json.loads(disk.call("job", "show", f"T-{job}", "--lines", "--json").stdout)["line"]
        assert len(shown) == recorded, f"T-{job}: {len(shown)} lines of {recorded}"
    attached = disk.call(*attach)
    assert attached.returncode == 0, attached.stderr
    disk.wait("the ballast", lambda: os.path.exists(os.path.join(disk.point, "b", "ballast")))


def main():
    programs, rounds = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 1
    folder = tempfile.mkdtemp(prefix="fairlead_disk_")
    point = os.path.join(folder, "small")
    os.mkdir(point)
    how = mount(os.path.join(folder, "image"), point)
    if how is None and os.environ.get("FAIRLEAD_IN_NAMESPACE") is None:
        shutil.rmtree(folder, ignore_errors=True)
        if run("unshare", "-rm", "true").returncode != 0:
            print("no file system may be mounted here: nothing was tested")
            return 77
        os.execvpe("unshare", ["unshare", "-rm", sys.executable, "-B", *sys.argv],
                   dict(os.environ, FAIRLEAD_IN_NAMESPACE="1"))
    assert how, "a tmpfs cannot be mounted"
    disk = SmallDisk(programs, folder, point)
    begun = time.time()
    try:
        disk.base.start()
        for number in range(rounds):
            one_round(disk, number)
        assert disk.base.process.poll() is None, "the base has ended"
        audit = json.loads(disk.call("audit", "--json").stdout)
        assert audit["fault"] == [], audit["fault"]
        assert disk.base.stop() == 0
        offline = disk.call("audit", "--data", os.path.join(point, "b"), "--json")
        assert offline.returncode == 0, offline.stdout + offline.stderr
        print(f"{how}: {rounds} times full and freed, {audit['leaves']} entries whole, "
              f"{time.time() - begun:.0f} s")
        return 0
    except BaseException:
        print(open(disk.base.log, errors="replace").read()[-3000:], file=sys.stderr)
        raise
    finally:
        if disk.base.process and disk.base.process.poll() is None:
            disk.base.kill()
        run("umount", "-l", point)
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(main())
