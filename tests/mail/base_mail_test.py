"""A whole base with [mail] and a [[schedule]]: its summary reaches a real SMTP server, once.

    /usr/bin/python3 -B tests/mail/base_mail_test.py BUILD

aiosmtpd on loopback with STARTTLS and a login; the base's settings name its certificate. The state
file of the schedule is set back by a week, as if the base had been off: one summary is owed. Nothing
goes out before the owner's yes; a server that is away is tried again; ended and started again in
every state, the base hands each period over once. What arrives is the file that is on record.
"""
import email
import email.policy
import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time

from aiosmtpd.smtp import AuthResult

from smtp_server import Box, Starttls, certificate, free_port, hold

BUILD = os.path.abspath(sys.argv[1])
FOLDER = tempfile.mkdtemp(prefix="fairlead-base-mail-")
DATA = os.path.join(FOLDER, "data")
PORT = free_port()


def program(name):
    return os.path.join(BUILD, "bin", name)


def wait(what, ready, seconds=60):
    deadline = time.monotonic() + seconds
    while not ready():
        hold(what, time.monotonic() < deadline)
        time.sleep(0.1)


class Base:
    address = f"127.0.0.1:{free_port()}"

    def __init__(self):
        self.log = open(os.path.join(FOLDER, "log"), "ab")
        self.process = subprocess.Popen([program("fairleadd"), "--config", os.path.join(FOLDER, "base.toml")],
                                        stdout=self.log, stderr=self.log)
        wait("the base starts", lambda: self.process.poll() is None and self.call("status", code=None) is not None)

    def call(self, *arguments, code=0):
        done = subprocess.run([program("fairlead"), *arguments], env=dict(os.environ, FAIRLEAD_BASE=self.address),
                              capture_output=True, text=True, timeout=120)
        if code is None:
            return done.stdout if done.returncode == 0 else None
        hold(f"{' '.join(arguments)}: exit {done.returncode}\n{done.stdout}{done.stderr}", done.returncode == code)
        return done.stdout

    def delivery(self):
        rows = json.loads(self.call("schedule", "list", "--json")).get("delivery", [])
        hold(f"one period, one delivery: {rows}", len(rows) <= 1)
        return rows[0] if rows else {"state": "", "tries": 0}

    def issued(self):
        return json.loads(self.call("summary", "--list", "--json"))["summary"]

    def stop(self, hard=False):
        (self.process.kill if hard else self.process.terminate)()
        self.process.wait(60)
        self.log.close()


def settings():
    with open(os.path.join(FOLDER, "password"), "w") as file:
        file.write("open sesame\n")
    os.chmod(os.path.join(FOLDER, "password"), 0o600)
    with open(os.path.join(FOLDER, "base.toml"), "w") as file:
        file.write(f'''name = "ozzlewick"
data = "{DATA}"
listen = "{Base.address}"
[mail]
server = "smtp://127.0.0.1:{PORT}"
from = "base@example.org"
user = "base"
password_file = "{FOLDER}/password"
ca = "{FOLDER}/server.pem"
[[schedule]]
name = "insurer"
every = "weekly"
zone = "Europe/Dublin"
to = ["claims@insurer.example"]
''')


def set_back_a_week():
    state = os.path.join(DATA, "schedules", "insurer")
    with open(state) as file:
        lines = file.read().splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("done_us "))
    lines[at] = f"done_us {int(lines[at].split()[1]) - 7 * 86_400_000_000}"
    with open(state, "w") as file:
        file.write("\n".join(lines) + "\n")


def server(box, context):
    def right(server, session, envelope, mechanism, data):
        good = data.login == b"base" and data.password == b"open sesame"
        return AuthResult(success=good, handled=good)

    one = Starttls(box, context, authenticator=right, auth_required=True)
    one.port = PORT
    return one


def main():
    context = certificate(FOLDER, "server", "127.0.0.1")
    settings()
    base = Base()
    hold("nothing of the time before the schedule was there", base.issued() == [])
    base.stop()
    set_back_a_week()

    base = Base()
    wait("the summary of last week is written", lambda: base.delivery()["state"] == "WAITS_FOR_YOUR_YES")
    base.call("schedule", "preview", "insurer", "--out", os.path.join(FOLDER, "look"))
    hold("nothing is tried before the owner's yes", base.delivery()["tries"] == 0)
    base.call("schedule", "approve", "insurer")
    wait("a server that is away is tried", lambda: base.delivery()["tries"] == 1)
    hold(f"and waited for: {base.delivery()}", base.delivery()["state"] == "WAITING" and base.delivery()["words"])
    base.stop(hard=True)

    # The next try is a minute off; the queue is a file that people may edit, so it is now.
    folder = os.path.join(DATA, "outbox", os.listdir(os.path.join(DATA, "outbox"))[0])
    queue = os.path.join(folder, "delivery")
    with open(queue) as file:
        text = [("next_us 0" if line.startswith("next_us ") else line) for line in file.read().splitlines()]
    with open(queue, "w") as file:
        file.write("\n".join(text) + "\n")
    box = Box()
    post = server(box, context)
    post.start()
    base = Base()
    wait("it is sent", lambda: base.delivery()["state"] == "SENT")
    for hard in (False, True):
        base.stop(hard)
        base = Base()
        time.sleep(6)  # Longer than the pause between two looks.
        hold(f"once and only once across restarts: {len(box.mails)} mails", len(box.mails) == 1)
        hold("one issue on record", len(base.issued()) == 1)
    post.stop()

    sender, to, content, secure = box.mails[0]
    hold(f"{sender} to {to} under TLS: {secure}", sender == "base@example.org" and to == ["claims@insurer.example"] and secure)
    mail = email.message_from_bytes(content, policy=email.policy.default)
    files = {part.get_filename(): part.get_payload(decode=True) for part in mail.iter_attachments()}
    hold(f"files {sorted(files)}", {"summary.html", "summary.pdf", "summary.json", "summary.csv"} <= set(files))
    for name, data in files.items():
        with open(os.path.join(folder, name), "rb") as file:
            hold(f"{name} is the one in the outbox", file.read() == data)
    hold("its hash is on record", base.issued()[0]["jsonSha256"] == hashlib.sha256(files["summary.json"]).hexdigest())
    report = json.loads(files["summary.json"])["report"]
    hold(f"names its zone: {report}", "Europe/Dublin" in json.dumps(report))
    with open(os.path.join(FOLDER, "summary.pdf"), "wb") as file:
        file.write(files["summary.pdf"])
    check = subprocess.run(["qpdf", "--check", os.path.join(FOLDER, "summary.pdf")], capture_output=True, text=True)
    hold("qpdf --check: " + check.stdout + check.stderr, check.returncode == 0)
    base.stop()
    shutil.rmtree(FOLDER)
    print("mail from a base: one summary, one mail over STARTTLS with a login, across 5 starts and 2 kills")


if __name__ == "__main__":
    main()
