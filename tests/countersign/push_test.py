#!/usr/bin/python3
"""A real base against an independent witness over HTTP, and against fairlead-verify by files.

    push_test.py BUILD

Statuses and their meaning: C2SP tlog-witness. The witness is witness.py, written from that text.
"""
import json
import os
import subprocess
import sys
import tempfile
import time

sys.dont_write_bytecode = True
HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, HERE)
sys.path.insert(0, os.path.join(os.path.dirname(HERE), "fault"))
from stand import free_port  # noqa: E402
from witness import Witness, serve, sign, so  # noqa: E402


def check(good, words):
    if not good:
        raise AssertionError(words)


class Base:
    def __init__(self, build, folder, witness, url, ca=None):
        os.makedirs(folder, exist_ok=True)
        self.bin, self.folder = os.path.join(build, "bin"), folder
        self.address = f"127.0.0.1:{free_port()}"
        config = os.path.join(folder, "base.toml")
        with open(config, "w") as out:
            out.write(f'name = "lot"\ndata = "{folder}/base"\nlisten = "{self.address}"\n'
                      f'[[countersigner]]\nvkey = "{witness.vkey()}"\nurl = "{url}"\n' +
                      (f'ca = "{ca}"\n' if ca else ""))
        self.log = open(os.path.join(folder, "base.log"), "wb")
        self.process = subprocess.Popen([os.path.join(self.bin, "fairleadd"), "--config", config],
                                        stdout=self.log, stderr=self.log)
        for _ in range(200):
            if self.run("fairlead", "status").returncode == 0:
                return
            time.sleep(0.1)
        raise AssertionError("the base does not answer: " + open(self.log.name).read())

    def stop(self):
        self.process.terminate()
        self.process.wait(20)

    def run(self, *command):
        return subprocess.run([os.path.join(self.bin, command[0]), *command[1:]], text=True, timeout=60,
                              capture_output=True, env=dict(os.environ, FAIRLEAD_BASE=self.address))

    def push(self, *more, code=0):
        done = self.run("fairlead", "countersign", "push", "--wait-ms", "10", *more)
        check(done.returncode == code, f"push {more}: exit {done.returncode}, wanted {code}\n"
                                       f"{done.stdout}{done.stderr}")
        return done.stdout + done.stderr

    def status(self):
        return json.loads(self.run("fairlead", "status", "--json").stdout)

    def grow(self, name):
        done = self.run("fairlead", "register", "put", name)
        check(done.returncode == 0, done.stderr)

    def log_key(self):
        with open(os.path.join(self.folder, "base", "roster.note")) as roster:
            return next(line.split()[1] for line in roster if line.startswith("log "))


def new_file(folder, number):
    """A procedure no base has yet: any new entry will do to make the tree grow."""
    source = os.path.join(os.path.dirname(os.path.dirname(HERE)), "daemon", "judge", "procedures", "carry.textproto")
    path = os.path.join(folder, "carry.textproto")
    with open(source) as file, open(path, "w") as out:
        out.write(file.read() + f"# {number}\n")
    return path


def over_http(base, witness, url):
    origin = base.log_key().split("+")[0]
    check("404" in base.push(code=4), "an unknown log must be said to be unknown")
    witness.logs[origin] = "lot/fairlead/g1" + base.log_key()[len(origin):]
    other = so.vkey(base.log_key())
    public, _ = sign(b"\7" * 32, b"")
    raw = b"\1" + public
    wrong_id = so.sha(origin.encode(), b"\n", raw)[:4].hex()
    good, witness.logs[origin] = witness.logs[origin], f"{origin}+{wrong_id}+{so.base64.b64encode(raw).decode()}"
    check("403" in base.push(code=4), "another log key must be refused")
    witness.logs[origin] = good
    check(other["name"] == origin, "the log key's name is the origin")

    witness.before = [(503, "busy\n"), (500, "oops\n"), (429, "slow down\n")]
    said = base.push()
    check(said.count("again in") == 3 and "countersigned head" in said, said)
    first = witness.heads[origin][0]
    standing = base.status()["countersigner"][0]
    check(int(standing["size"]) == first, f"{standing} is not {first}")

    # Somebody else's request moved the witness on: the base learns the size and goes on from there.
    base.grow(new_file(base.folder, 1))
    request = base.run("fairlead", "countersign", "request").stdout.encode()
    witness.add_checkpoint(request)  # Its answer is lost.
    base.grow(new_file(base.folder, 2))
    said = base.push()
    check("countersigned head" in said, said)
    check(witness.heads[origin][0] > first, "the witness did not move on")

    # What is no cosignature of ours is not taken.
    witness.before = [(200, "\u2014 lot.example/w AAAAAAAAAAA=\n")]
    base.grow(new_file(base.folder, 3))
    base.push(code=3)
    witness.before = [(200, "")]
    base.push(code=3)
    # A proof it cannot accept: it remembers another root for its size.
    size, root = witness.heads[origin]
    witness.heads[origin] = (size, bytes(32))
    check("422" in base.push(code=4), "a proof that does not verify must be said to be none")
    # It stands above this ledger.
    witness.heads[origin] = (10**6, bytes(32))
    check("older copy" in base.push(code=4), "a countersigner ahead of the ledger must be told of")
    witness.heads[origin] = (size, root)
    check("countersigned head" in base.push(), "the witness is well again")
    # Nobody there: it gives up after as many attempts as it was told.
    said = base.push("--url", f"http://127.0.0.1:{free_port()}", "--tries", "3", code=4)
    check(said.count("again in") == 2 and "gave up after 3" in said, said)
    check("gave up" not in base.push(), "the settings' url works still")


def authority(folder, name):
    """An authority and a certificate of its for localhost, by openssl(1): the authority's file, the server's."""
    at = lambda end: os.path.join(folder, f"{name}.{end}")  # noqa: E731
    curve = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes"]

    def openssl(*words):
        done = subprocess.run(["openssl", *words], text=True, capture_output=True)
        check(done.returncode == 0, done.stderr)

    openssl("req", "-x509", *curve, "-days", "2", "-subj", f"/CN={name}", "-keyout", at("ca.key"), "-out", at("ca"))
    openssl("req", *curve, "-subj", "/CN=localhost", "-keyout", at("key"), "-out", at("request"))
    with open(at("names"), "w") as out:
        out.write("subjectAltName = DNS:localhost\n")
    openssl("x509", "-req", "-in", at("request"), "-CA", at("ca"), "-CAkey", at("ca.key"), "-CAcreateserial",
            "-days", "2", "-extfile", at("names"), "-out", at("crt"))
    with open(at("pem"), "w") as out:
        for end in ("crt", "key"):
            with open(at(end)) as part:
                out.write(part.read())
    return at("ca"), at("pem")


def over_https(build, folder, witness):
    """Only the authority the settings name vouches for the witness."""
    ours, certificate = authority(folder, "ours")
    others, _ = authority(folder, "others")
    server, url = serve(witness, certificate)
    witness.logs, witness.heads = {}, {}

    def known(base):
        witness.logs[base.log_key().split("+")[0]] = base.log_key()
        return base

    try:
        base = known(Base(build, os.path.join(folder, "trusting"), witness, url))
        check("certificate" in base.push(code=3), "without a setting our authority is nobody's")
        base.stop()
        base = known(Base(build, os.path.join(folder, "secure"), witness, url, ca=os.path.join("..", "ours.ca")))
        check("certificate" in base.push("--ca", others, code=3), "another authority vouches for nobody")
        check("127.0.0.1" in base.push("--url", url.replace("localhost", "127.0.0.1"), code=3), "another name")
        check(not witness.heads, "nothing went out to anybody who was not vouched for")
        check("countersigned head" in base.push(), "the settings' authority")
        base.grow(new_file(base.folder, 9))
        check("countersigned head" in base.push("--ca", ours), "the same by an option")
        base.stop()
    finally:
        if base.process.poll() is None:
            base.stop()
        server.shutdown()


def by_files(base, witness):
    """The same base, its countersigner now fairlead-verify: named anew in another base's settings."""
    folder = base.folder
    at = lambda name: os.path.join(folder, name)  # noqa: E731
    done = base.run("fairlead-verify", "pin", "--roster", at("base/roster.note"), "--log", base.log_key(),
                    "-o", at("policy"))
    check(done.returncode == 0, done.stderr)
    done = base.run("fairlead-verify", "countersign-key", at("insurer"), "--name", witness.name)
    check(done.returncode == 0 and "+" in done.stdout, done.stderr)
    check(os.stat(at("insurer/secret.key")).st_mode & 0o777 == 0o600, "the key is not private")
    base.run("fairlead", "countersign", "request", "--old", "0", "-o", at("head.request"))
    # It never cosigned anything: 0 is where it stands.
    done = base.run("fairlead-verify", "countersign", at("head.request"), "--folder", at("insurer"),
                    "--policy", at("policy"), "-o", at("head.answer"))
    check(done.returncode == 0, done.stdout + done.stderr)
    # The base does not know this key: one of the same name is no other's.
    done = base.run("fairlead", "countersign", "take", at("head.answer"))
    check(done.returncode == 3 and "nobody" in done.stderr, done.stdout + done.stderr)
    # Asked from 0 again it says where it stands; the base takes the hint.
    base.grow(new_file(folder, 4))
    base.run("fairlead", "countersign", "request", "--old", "0", "-o", at("head.request"))
    done = base.run("fairlead-verify", "countersign", at("head.request"), "--folder", at("insurer"),
                    "--policy", at("policy"), "-o", at("head.answer"))
    check(done.returncode == 2 and "409" in done.stdout, done.stdout + done.stderr)
    done = base.run("fairlead", "countersign", "take", at("head.answer"))
    check(done.returncode == 0 and "ask again from there" in done.stdout, done.stdout + done.stderr)


def main():
    witness = Witness("insurer.example/w", bytes(range(32)))
    # RFC 8032 section 7.1, TEST 1: the signer here is the real thing.
    public, signature = sign(bytes.fromhex("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"), b"")
    check(public.hex() == "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a" and
          signature.hex().startswith("e5564300c360ac729086e2cc806e828a"), "RFC 8032 TEST 1")
    witness.clock = time.time
    server, url = serve(witness)
    with tempfile.TemporaryDirectory() as folder:
        base = Base(sys.argv[1], folder, witness, url)
        try:
            over_http(base, witness, url)
            by_files(base, witness)
        except AssertionError:
            print(open(base.log.name).read(), file=sys.stderr)
            raise
        finally:
            base.process.terminate()
            base.process.wait(20)
            server.shutdown()
        over_https(sys.argv[1], folder, witness)
        outbox = os.listdir(os.path.join(folder, "base", "outbox"))
        check(any(name.startswith("head-") for name in outbox), f"no head went out: {outbox}")
    print("countersigning over HTTP and by files: ok")


if __name__ == "__main__":
    main()
