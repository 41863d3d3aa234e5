#!/usr/bin/env python3
"""Keys and access with real processes over TLS on loopback, from an offline root to a bundle.

An owner makes root, officer and certificates; a truck is enrolled by its code and an officer's
signature and streams over TLS 1.3; who has no right is turned away in words; the key rotates, is
revoked, and what comes after counts for nothing, at the base and for the offline verifier.
TLS versions are tried with `openssl s_client`, somebody else's client. Usage: keys_test.py BUILD_FOLDER
"""
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from stand import Daemon, free_port  # noqa: E402

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
FLEET = os.path.join(ROOT, "clients", "sim", "fleet")
TRACE = os.path.join(ROOT, "tests", "traces", "J-104-105", "trace.jsonl")
OPINION = os.path.join(ROOT, "tests", "unit", "verify", "second_opinion.py")


class House:
    def __init__(self, programs, folder):
        self.bin, self.folder = os.path.join(programs, "bin"), folder
        self.port = free_port()
        self.address = f"127.0.0.1:{self.port}"
        self.local = f"unix:{folder}/b/base.sock"
        self.cab = f"unix:{folder}/t/truck.sock"
        self.daemons = []

    def path(self, *names):
        return os.path.join(self.folder, *names)

    def call(self, *arguments, to=None, profile=None, code=0, words=""):
        environment = {k: v for k, v in os.environ.items() if not k.startswith("FAIRLEAD_")}
        environment["FAIRLEAD_BASE"] = to or self.local
        if profile:
            environment.pop("FAIRLEAD_BASE")
            environment["FAIRLEAD_PROFILE"] = self.path(profile, "profile.toml")
        done = subprocess.run([os.path.join(self.bin, "fairlead"), *arguments], env=environment,
                              capture_output=True, text=True, timeout=60)
        said = done.stdout + done.stderr
        assert (done.returncode == code if code is not None else done.returncode != 0), (arguments, done.returncode, said)
        assert words in said, f"{arguments}: no \"{words}\" in: {said}"
        return done.stdout

    def daemon(self, name, settings):
        daemon = Daemon(os.path.join(self.bin, "fairleadd"), self.folder, name, settings)
        self.daemons.append(daemon)
        return daemon

    def wait(self, what, condition, seconds=30):
        deadline = time.time() + seconds
        while time.time() < deadline:
            if condition():
                return
            time.sleep(0.05)
        raise AssertionError(f"waited {seconds} s for {what}")

    def status(self):
        return json.loads(self.call("status", "--json", to=self.cab))

    def job(self):
        return json.loads(self.call("job", "show", self.name, "--json"))

    def wait_sent(self):
        self.wait("the truck's record at the base",
                  lambda: (s := self.status())["connected"] and s["ackedSeq"] == s["entries"])


def offline_root(house):
    """Root and officer are made away from the base; the base never sees either secret."""
    house.call("enrol", "root", "--name", "ozzlewick", "-o", house.path("stick"), "--dry-run", words="would write")
    assert not os.path.exists(house.path("stick"))
    house.call("enrol", "root", "--name", "ozzlewick", "-o", house.path("stick"))
    house.call("enrol", "root", "--name", "ozzlewick", "-o", house.path("stick"))  # Again: the same key.
    house.call("enrol", "officer", "--name", "anna", "--base-name", "ozzlewick", "-o", house.path("anna"))
    house.call("enrol", "officer", "--name", "anna", "--base-name", "ozzlewick", "-o", house.path("anna"),
               code=4, words="is there already")
    assert os.stat(house.path("anna", "anna.key")).st_mode & 0o777 == 0o600
    house.call("enrol", "base", "--name", "ozzlewick", "--data", house.path("b"))
    house.call("enrol", "roster", "--from", house.path("b", "roster.request"), "--root",
               house.path("stick", "root.key"), "--officer", house.path("anna", "anna.pub"),
               "-o", house.path("b", "roster.note"), words="fingerprint")
    shutil.copy(house.path("b", "roster.note"), house.path("roster-1.note"))


def certificates(house):
    def make(*arguments, out):
        house.call("enrol", "certificate", "--data", house.path("b"), *arguments, "-o", house.path(out),
                   "--address", house.address)
    make("--role", "base", out="b/tls")
    make("--role", "owner", "--id", "anna", out="owner")
    make("--role", "insurer", "--id", "harrow", out="insurer")
    make("--role", "operator", "--id", "card-none", out="operator")
    assert os.stat(house.path("b", "keys", "ca.key")).st_mode & 0o777 == 0o600
    house.call("enrol", "certificate", "--data", house.path("b"), "--role", "boss", "--id", "x", "-o",
               house.path("x"), code=3, words="--role: write")


TLS = '[tls]\ncertificate = "{0}/tls.crt"\nkey = "{0}/tls.key"\nca = "{0}/ca.crt"\n'


def start_base(house):
    base = house.daemon("base", f'name = "ozzlewick"\ndata = "b"\nlisten = "{house.address}"\n'
                                + TLS.format("b/tls") + f'[files]\nregister = ["{FLEET}"]\n')
    base.start()
    assert not os.path.exists(house.path("b", "keys", "root.key")), "the base made a root key of its own"
    return base


def versions(house):
    """Only TLS 1.3 is spoken, and only with a certificate."""
    def shake(version):
        return subprocess.run(["openssl", "s_client", "-connect", house.address, version, "-alpn", "h2",
                               "-CAfile", house.path("insurer", "ca.crt"), "-cert", house.path("insurer", "tls.crt"),
                               "-key", house.path("insurer", "tls.key")],
                              stdin=subprocess.DEVNULL, capture_output=True, text=True, errors="replace", timeout=30)
    good = shake("-tls1_3")
    assert "TLSv1.3" in good.stdout and "Verify return code: 0" in good.stdout, good.stdout + good.stderr
    for old in ("-tls1_2", "-tls1_1", "-tls1"):
        bad = shake(old)
        assert bad.returncode != 0 and "Cipher is (NONE)" in bad.stdout, (old, bad.stdout[-600:], bad.stderr)


def roles(house):
    house.call("ledger", "head", profile="insurer")
    house.call("jobs", profile="insurer", code=None, words="insurer 'harrow' may not call")
    house.call("jobs", profile="operator")
    house.call("status", profile="owner")
    house.call("status", to=house.address, code=None, words="base at")  # No certificate.
    # Another authority of the same name.
    shutil.copytree(house.path("owner"), house.path("other"))
    subprocess.run(["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes",
                    "-keyout", house.path("other", "tls.key"), "-out", house.path("other", "tls.crt"), "-days", "2",
                    "-subj", "/CN=x", "-addext", "subjectAltName=URI:fairlead://ozzlewick/owner/anna"],
                   check=True, capture_output=True)
    os.chmod(house.path("other", "tls.key"), 0o600)
    house.call("jobs", profile="other", code=None, words="did not issue")
    shutil.copy(house.path("other", "tls.crt"), house.path("other", "ca.crt"))
    house.call("jobs", profile="other", code=None, words="does it take this certificate")


def revoked_person(house):
    """Refused from the next call on, while the base runs; a certificate issued later is good again."""
    make = ("enrol", "certificate", "--data", house.path("b"), "--role", "owner", "--id", "bert", "-o",
            house.path("bert"), "--address", house.address)
    house.call(*make)
    house.call("jobs", profile="bert")
    revoke = ("enrol", "revoke-certificate", "--data", house.path("b"), "--id", "bert")
    house.call(*revoke, "--role", "base", code=3, words="not revoked at the base")
    house.call(*revoke, "--role", "owner", "--dry-run", words="would revoke")
    house.call("jobs", profile="bert")
    house.call(*revoke, "--role", "owner", "--why", "laptop stolen", words="from the next call on")
    house.call("jobs", profile="bert", code=None, words="are revoked")
    house.call("jobs", profile="owner")
    time.sleep(1.1)  # Certificates count whole seconds.
    shutil.rmtree(house.path("bert"))
    house.call(*make)
    house.call("jobs", profile="bert")


def expired(house):
    """A certificate of yesterday, by the base's own authority, is refused with words before it is used."""
    shutil.copytree(house.path("insurer"), house.path("late"))
    with open(house.path("ext"), "w") as out:
        out.write("subjectAltName=URI:fairlead://ozzlewick/insurer/harrow\nextendedKeyUsage=clientAuth\n")
    subprocess.run(["openssl", "req", "-new", "-key", house.path("late", "tls.key"), "-subj", "/CN=x", "-out",
                    house.path("late.csr")], check=True, capture_output=True)
    ca = subprocess.run(["openssl", "x509", "-req", "-in", house.path("late.csr"), "-CA", house.path("b", "ca.crt"),
                         "-CAkey", house.path("b", "keys", "ca.key"), "-set_serial", "77", "-days", "-1", "-extfile",
                         house.path("ext"), "-out", house.path("late", "tls.crt")], capture_output=True, text=True)
    assert ca.returncode == 0, ca.stderr
    house.call("ledger", "head", profile="late", code=None, words="this certificate expired on")


def start_truck(house, settings=""):
    truck = house.daemon("truck", 'role = "truck"\nname = "OW-02"\ndata = "t"\n[truck]\n'
                                  f'base = "{house.address}"\nreconnect_longest_ms = 200\n' + settings)
    return truck.start()


def enrol(house):
    """device.pub and the code go to the desk by hand; an officer signs there."""
    start_truck(house).stop()
    code = open(house.path("t", "enrolment.code")).read().strip()
    shown = open(house.path("truck.log")).read()
    assert f"one-time code {code}" in shown
    line = house.path("t", "device.pub")
    house.call("enrol", "request", "-o", house.path("t", "tls"))
    house.call("enrol", "certificate", "--data", house.path("b"), "--truck", line, "--request",
               house.path("t", "tls", "tls.request"), "-o", house.path("t", "tls"))
    truck = start_truck(house, TLS.format("t/tls"))
    house.wait("the base's refusal", lambda: "is not enrolled" in open(house.path("truck.log")).read())
    assert house.status()["enrolCode"] == code
    wrong = ("2" if code[0] != "2" else "3") + code[1:]
    anna = ("--officer", house.path("anna", "anna.key"))
    house.call("enrol", "truck", "--key", line, "--code", code, code=None, words="--officer")
    house.call("enrol", "truck", "--key", line, "--code", wrong, *anna, code=None, words="nothing is signed")
    house.call("enrol", "truck", "--key", line, "--code", wrong, code=None, words="4 tries left")
    house.call("enrol", "truck", "--key", line, "--code", code, "--officer", house.path("stick", "root.key"),
               "--officer-name", "ozzlewick/officer-anna", code=None, words="none of them has signed")
    house.call("enrol", "truck", "--key", line, "--code", code, *anna, "--dry-run", words="would enrol 'OW-02'")
    assert not house.status()["enrolled"]
    house.call("enrol", "truck", "--key", line, "--code", code, *anna, words="enrolled, leaf")
    house.wait("the enrolment", lambda: house.status()["enrolled"])
    house.wait("the files", lambda: house.status()["orders"] != "0")
    assert not os.path.exists(house.path("t", "enrolment.code"))
    return truck


def strangers(house):
    """A second truck with a good certificate of its own cannot speak for the first."""
    settings = ('role = "truck"\nname = "OW-09"\ndata = "t9"\n[truck]\n' f'base = "{house.address}"\n')
    other = house.daemon("other", settings).start()
    other.stop()
    house.call("enrol", "request", "-o", house.path("t9", "tls"))
    house.call("enrol", "certificate", "--data", house.path("b"), "--truck", house.path("t9", "device.pub"),
               "--request", house.path("t9", "tls", "tls.request"), "-o", house.path("t9", "tls"))
    # The other truck's folder with this truck's certificate: refused before anything is sent.
    swapped = house.daemon("swapped", settings.replace("t9", "t10") + TLS.format("t9/tls"))
    done = subprocess.run([os.path.join(house.bin, "fairleadd"), "--config", swapped.config], capture_output=True,
                          text=True, timeout=30)
    assert done.returncode != 0 and "a truck needs its own" in done.stderr, done.stderr
    # Dead codes: five wrong tries, then not even the right one counts.
    code = open(house.path("t9", "enrolment.code")).read().strip()
    wrong = ("2" if code[0] != "2" else "3") + code[1:]
    for left in (4, 3, 2, 1, 0):
        house.call("enrol", "truck", "--key", house.path("t9", "device.pub"), "--code", wrong, code=None,
                   words=f"{left} tries left")
    house.call("enrol", "truck", "--key", house.path("t9", "device.pub"), "--code", code, code=None, words="is dead")
    shutil.rmtree(house.path("t10"), ignore_errors=True)


def work(house, lines):
    with open(house.path("part.jsonl"), "w") as out:
        out.writelines(lines)
    house.call("feed", house.path("part.jsonl"), "--wait", "20", to=house.cab)
    house.wait_sent()


def rotate(house, truck):
    house.call("enrol", "rotate", "--data", house.path("t"), "--dry-run", words="would write")
    before = {t["name"]: t for t in json.loads(house.call("register", "trucks", "--json"))["truck"]}["OW-02"]
    house.call("enrol", "rotate", "--data", house.path("t"), words="new key")
    assert truck.stop() == 0
    truck.start()
    assert "the new key signs from here on" in open(truck.log).read(), open(truck.log).read()[-800:]
    house.wait_sent()
    after = {t["name"]: t for t in json.loads(house.call("register", "trucks", "--json"))["truck"]}["OW-02"]
    assert before["publicKey"] != after["publicKey"] and not os.path.exists(house.path("t", "device.key.next"))


def pin(house, *rosters):
    log = re.search(r"^log (.*)$", open(house.path("roster-1.note")).read(), re.M).group(1)
    arguments = [a for r in rosters for a in ("--roster", house.path(r))]
    done = subprocess.run([os.path.join(house.bin, "fairlead-verify"), "pin", *arguments, "--log", log, "-o",
                           house.path("policy")], capture_output=True, text=True)
    assert done.returncode == 0 and "officers required" in done.stdout, done.stdout + done.stderr


def verify(house, code, *words):
    house.call("job", "bundle", house.name, "-o", house.path("job.flb"))
    done = subprocess.run([os.path.join(house.bin, "fairlead-verify"), "check", house.path("job.flb"), "--policy",
                           house.path("policy")], capture_output=True, text=True)
    assert done.returncode == code, done.stdout
    for word in words:
        assert word in done.stdout, (word, done.stdout)
    second = subprocess.run(["/usr/bin/python3", "-B", OPINION, house.path("job.flb"), house.path("policy")],
                            capture_output=True, text=True)
    assert second.returncode == code, (code, second.returncode, second.stdout, second.stderr)


def new_roster(house):
    """An officer leaves and the admin key changes: signed offline, taken while the base runs."""
    house.call("enrol", "base", "--name", "ozzlewick", "--data", house.path("b"), "--next", "admin")
    house.call("enrol", "officer", "--name", "bo", "--base-name", "ozzlewick", "-o", house.path("bo"))
    house.call("enrol", "roster", "--from", house.path("b", "roster.request"), "--root",
               house.path("stick", "root.key"), "--officer", house.path("bo", "bo.pub"), "--drop", "anna", "-o",
               house.path("roster-2.note"))
    house.call("enrol", "install", house.path("roster-1.note"), code=None, words="in force already")
    house.call("enrol", "install", house.path("roster-2.note"), "--dry-run", words="adds officer ozzlewick/officer-bo")
    house.call("enrol", "install", house.path("roster-2.note"), words="in force from entry")


def revoke(house, lines):
    """What the truck says after the last trusted entry is kept and counts for nothing."""
    trusted = house.status()["ackedSeq"]
    house.call("enrol", "revoke", "--truck", "OW-02", "--last", "999999", "--why", "x", code=None, words="the base holds")
    house.call("enrol", "revoke", "--truck", "OW-02", "--last", trusted, "--why", "stolen", "--dry-run", words="would be revoked")
    house.call("enrol", "revoke", "--truck", "OW-02", "--last", trusted, "--why", "stolen", words="revoked")
    orders = house.status()["orders"]
    with open(os.path.join(ROOT, "daemon", "judge", "procedures", "carry.textproto")) as file, \
            open(house.path("carry.textproto"), "w") as out:
        out.write(file.read() + "# newer\n")
    house.call("register", "put", house.path("carry.textproto"))
    work(house, lines)
    assert house.status()["orders"] == orders, "a revoked truck is still told what is new"
    house.wait("the quarantine", lambda: house.job()["job"]["quarantined"] > 0)
    job = house.job()["job"]
    assert job["closedAt"] == "", "a closing by a revoked key closed the job"
    house.call("jobs", words="after its key was revoked, not judged")
    house.call("status", words="revoked after entry " + trusted)
    shown = house.call("job", "show", house.name, "--lines").splitlines()
    assert len(shown) >= job["lines"] + job["quarantined"]


def main():
    folder = tempfile.mkdtemp(prefix="fairlead_keys_")
    house = House(sys.argv[1], folder)
    lines = open(TRACE).readlines()
    house.name = json.loads(lines[0])["job"]
    third = len(lines) // 3
    try:
        offline_root(house)
        certificates(house)
        base = start_base(house)
        versions(house)
        roles(house)
        revoked_person(house)
        expired(house)
        truck = enrol(house)
        strangers(house)
        pin(house, "roster-1.note")
        work(house, lines[:third])
        rotate(house, truck)
        work(house, lines[third:2 * third])
        verify(house, 1, "the job is still open")
        new_roster(house)
        work(house, lines[2 * third:2 * third + 2])
        base.stop()
        base.start()
        house.wait_sent()
        verify(house, 4)  # The insurer has not pinned the second roster.
        pin(house, "roster-1.note", "roster-2.note")
        verify(house, 1)
        revoke(house, lines[2 * third + 2:])
        verify(house, 1, "revoked key")
        assert json.loads(house.call("ledger", "audit", "--json"))["fault"] == []
        assert truck.stop() == 0 and base.stop() == 0
        print("keys: enrolled, streamed over TLS 1.3, rotated, revoked; strangers turned away; bundles checked")
    except BaseException:
        for daemon in house.daemons:
            if os.path.exists(daemon.log):
                print(daemon.log, open(daemon.log, errors="replace").read()[-1500:], file=sys.stderr)
        raise
    finally:
        for daemon in house.daemons:
            if daemon.process and daemon.process.poll() is None:
                daemon.kill()
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
