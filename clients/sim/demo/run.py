"""The demo: a base, two trucks, three jobs of the invented fleet, two claims, a summary.

    /usr/bin/python3 clients/sim/demo/run.py BIN OUT

BIN: folder of the built programs. OUT: folder made anew; everything the demo writes lies there.
J-102 and J-104-105 are fed to the trucks as recorded; J-106 is played in real time, its positions
through a real gpsd and its load cell over Modbus. Ends with what it did and where things lie;
exit 0 only if every step did what it should.
"""
import datetime
import hashlib
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time

HERE = os.path.dirname(os.path.abspath(__file__))
TOP = os.path.dirname(os.path.dirname(os.path.dirname(HERE)))
WRITTEN_ON = datetime.date(2026, 11, 25)  # The fleet files' dates are right for this day.
TODAY = datetime.datetime.now(datetime.timezone.utc)


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


class Failed(Exception):
    pass


class Demo:
    def __init__(self, programs, out):
        self.bin, self.out = os.path.abspath(programs), os.path.abspath(out)
        self.running = []
        self.began = time.monotonic()
        self.base = f"127.0.0.1:{free_port()}"
        self.lines = []

    # Words for the person who watches.
    def say(self, text):
        print(f"[{time.monotonic() - self.began:5.1f} s] {text}", flush=True)

    def path(self, *parts):
        return os.path.join(self.out, *parts)

    def program(self, name):
        return os.path.join(self.bin, name)

    def spawn(self, name, *command):
        log = open(self.path(name + ".log"), "wb")
        process = subprocess.Popen(command, stdout=log, stderr=log, start_new_session=True)
        self.running.append(process)
        return process

    def stop(self):
        for process in reversed(self.running):
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGTERM)
        for process in self.running:
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)

    def call(self, *arguments, code=0, to=None, stdin=None):
        environment = dict(os.environ, FAIRLEAD_BASE=to or self.base)
        done = subprocess.run([self.program(arguments[0]), *arguments[1:]], env=environment,
                              capture_output=True, text=True, input=stdin, timeout=60)
        if code is not None and done.returncode != code:
            raise Failed(f"{' '.join(arguments)}: exit {done.returncode}, wanted {code}\n"
                         f"{done.stdout}{done.stderr}")
        return done

    def client(self, *arguments, **options):
        return self.call("fairlead", *arguments, **options).stdout

    def wait(self, what, seconds, condition):
        deadline = time.monotonic() + seconds
        while time.monotonic() < deadline:
            if condition():
                return
            time.sleep(0.1)
        raise Failed(f"waited {seconds} s for {what}")


def shift_dates(text, days):
    def moved(match):
        try:
            day = datetime.date.fromisoformat(match.group(0)) + datetime.timedelta(days=days)
        except ValueError:
            return match.group(0)
        return day.isoformat()
    return re.sub(r"(?<!\d)20\d\d-\d\d-\d\d(?!\d)", moved, text)


def write_fleet(demo):
    """The fleet's files with their dates moved so that gear and instruments are in date today."""
    days = (TODAY.date() - WRITTEN_ON).days
    os.makedirs(demo.path("fleet"))
    fleet = os.path.join(TOP, "clients", "sim", "fleet")
    for name in sorted(os.listdir(fleet)):
        if name.endswith(".textproto"):
            with open(os.path.join(fleet, name)) as file:
                text = shift_dates(file.read(), days)
            with open(demo.path("fleet", name), "w") as file:
                file.write(text)


def write_trace(demo, case, days_ago, more=""):
    """A recorded job with `more` lines, moved to a day just past; returns its file."""
    with open(os.path.join(TOP, "tests", "traces", case, "trace.jsonl")) as file:
        text = file.read() + more
    day = datetime.date.fromisoformat(re.search(r'"time":"(\d{4}-\d\d-\d\d)', text).group(1))
    name = demo.path(case + ".jsonl")
    with open(name, "w") as file:
        file.write(shift_dates(text, (TODAY.date() - datetime.timedelta(days=days_ago) - day).days))
    return name


def pictures(job):
    """Lines of two pictures of the front bumper: before the first touch, and at release."""
    lines = ""
    for seq, (at, when, file) in enumerate((("2026-11-18T07:52:20Z", "BEFORE", "front-before.png"),
                                            ("2026-11-18T08:46:40Z", "AFTER", "front-after.png")), 1):
        with open(os.path.join(HERE, file), "rb") as picture:
            digest = hashlib.sha256(picture.read()).hexdigest()
        lines += json.dumps({"time": at, "job": job, "source": "camera", "seq": seq, "clock": "truck",
                             "photo": {"view": "spot:front bumper", "when": when, "sha256": digest, "mediaType": "image/png"}}) + "\n"
    return lines


def make_insurer(demo):
    """The pretend insurer's folder: a key of its own, which the base is told of by its name."""
    made = demo.call("fairlead-verify", "countersign-key", demo.path("insurer"), "--name", "insurer.example/heads")
    return made.stdout.strip()


def start_base(demo, countersigner):
    with open(demo.path("base.toml"), "w") as file:
        file.write(f'name = "ozzlewick"\ndata = "{demo.path("base")}"\nlisten = "{demo.base}"\n'
                   f'[files]\nregister = ["{demo.path("fleet")}"]\n'
                   f'procedures = ["{os.path.join(TOP, "daemon", "judge", "procedures")}"]\n'
                   f'[[countersigner]]\nvkey = "{countersigner}"\n')
    demo.spawn("base", demo.program("fairleadd"), "--config", demo.path("base.toml"))


def truck_address(demo, name):
    return f"unix:{demo.path(name, 'truck.sock')}"


def start_truck(demo, name, plugins=""):
    with open(demo.path(name + ".toml"), "w") as file:
        file.write(f'role = "truck"\nname = "{name}"\ndata = "{demo.path(name)}"\n'
                   f'[truck]\nbase = "{demo.base}"\nreconnect_longest_ms = 300\n{plugins}')
    demo.spawn(name, demo.program("fairleadd"), "--config", demo.path(name + ".toml"))


def answers(demo, address):
    done = demo.call("fairlead", "status", "--json", to=address, code=None)
    return done.returncode == 0 and json.loads(done.stdout)


PLUGINS = """
[[plugin]]
id = "gps"
program = "{bin}/fairlead-plugin-gps"
required = true
[[plugin.settings.receiver]]
source = "gps.truck"
port = {gpsd}

[[plugin]]
id = "line"
program = "{bin}/fairlead-plugin-line"
required = true
[plugin.settings]
period_ms = 200
[plugin.settings.link]
kind = "tcp"
host = "127.0.0.1"
port = {modbus}
"""
REGISTER = """
[[plugin.settings.register]]
signal = "{signal}"
unit = "{unit}"
kind = "input"
address = {address}
type = "float32"
word_order = "abcd"
"""


def start_instruments(demo):
    """A simulated receiver behind a real gpsd, and a simulated Modbus amplifier; the plugins' text."""
    nmea, gpsd, modbus = free_port(), free_port(), free_port()
    drive, winch = (os.path.join(HERE, f"j106-{name}.profile") for name in ("drive", "winch"))
    demo.spawn("sim-nmea", demo.program("fairlead-sim"), "nmea", "--profile", drive, "--port", str(nmea),
               "--rate", "2", "--noise", "0.4", "--noise-speed", "0.005", "--origin", "44.5", "-30.0")
    demo.spawn("sim-modbus", demo.program("fairlead-sim"), "modbus", "--profile", winch, "--port", str(modbus))
    demo.spawn("gpsd", "gpsd", "-N", "-n", "-S", str(gpsd), f"tcp://127.0.0.1:{nmea}")
    text = PLUGINS.format(bin=demo.bin, gpsd=gpsd, modbus=modbus)
    for signal_name, unit, address in (("line.pull", "N", 0), ("line.out", "m", 2), ("deck.tilt", "deg", 4)):
        text += REGISTER.format(signal=signal_name, unit=unit, address=address)
    return text


class LiveJob(threading.Thread):
    """Plays the operator of J-106: one line at its second after the start."""

    def __init__(self, demo):
        super().__init__(daemon=True)
        self.demo, self.error, self.job = demo, None, None

    def run(self):
        try:
            self.play()
        except Exception as error:  # Shown by the main thread.
            self.error = error

    def play(self):
        demo = self.demo
        opened = json.loads(demo.client("job", "open", "--truck", "OW-04", "--vehicle", "hauberk", "--procedure", "load",
                                        "--procedure", "carry", "--operator", "card-3f", "--number", "J-106", "--json"))
        self.job = opened["jobId"]
        began = time.monotonic()
        with open(os.path.join(HERE, "j106.steps")) as file:
            steps = [line.split(None, 1) for line in file if line.strip() and not line.startswith("#")]
        for seq, (second, content) in enumerate(steps, 1):
            time.sleep(max(0.0, began + float(second) - time.monotonic()))
            now = datetime.datetime.now(datetime.timezone.utc).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
            line = {"time": now, "job": self.job, "source": "operator", "seq": seq, "clock": "truck"}
            line.update(json.loads(content))
            demo.client("feed", "-", "--to", truck_address(demo, "OW-04"), stdin=json.dumps(line) + "\n")


def job_settled(demo, name):
    done = demo.call("fairlead", "job", "show", name, "--json", code=None)
    if done.returncode != 0:
        return False
    shown = json.loads(done.stdout)
    findings = [json.loads(line) for line in shown.get("finding", [])]
    return "closedAt" in shown["job"] and bool(findings) and all(one["settled"] for one in findings)


def claim_and_report(demo, job, words, allegations, total):
    arguments = ["claim", "open", "--job", job, "--words", words, "--sum", total, "--claimant", "the owner of the car", "--json"]
    for allegation in allegations:
        arguments += ["--allegation", allegation]
    claim = json.loads(demo.client(*arguments))
    number = claim["claimId"]
    out = demo.path("reports", number)
    demo.client("report", "claim", number, "--out", out)
    demo.say(f"claim {number} against {job}: report in {os.path.relpath(out)}")
    return out


def find(folder, ending):
    names = sorted(name for name in os.listdir(folder) if name.endswith(ending))
    if not names:
        raise Failed(f"{folder} holds no file {ending}")
    return os.path.join(folder, names[0])


def pin_policy(demo, countersigner):
    """The insurer's own policy, pinned once from the base's roster and its own key."""
    roster = demo.path("base", "roster.note")
    with open(roster) as file:
        log = next(line.split()[-1] for line in file if line.startswith("log "))
    demo.call("fairlead-verify", "pin", "--roster", roster, "--log", log, "--countersigner", countersigner,
              "-o", demo.path("insurer.policy"))


def countersign(demo):
    """By files, as it goes by mail: the base asks, the insurer signs offline, the base takes it in."""
    request, answer = demo.path("head.request"), demo.path("head.answer")
    demo.client("countersign", "request", "-o", request)
    demo.call("fairlead-verify", "countersign", request, "--folder", demo.path("insurer"),
              "--policy", demo.path("insurer.policy"), "-o", answer)
    return demo.client("countersign", "take", answer).strip()


def verify(demo, bundle, wanted=None):
    checked = demo.call("fairlead-verify", "check", bundle, "--policy", demo.path("insurer.policy"), code=None)
    if wanted is not None and checked.returncode != wanted:
        raise Failed(f"verifying {bundle}: exit {checked.returncode}, wanted {wanted}\n{checked.stdout}{checked.stderr}")
    return checked


def altered(demo, bundle):
    """A copy of the bundle with one bit of the record turned."""
    with open(bundle, "rb") as file:
        data = bytearray(file.read())
    data[len(data) // 2] ^= 1
    name = demo.path("altered.flb")
    with open(name, "wb") as file:
        file.write(data)
    return name


def play(demo):
    demo.say("starting a base, gpsd, a Modbus load cell and two trucks")
    write_fleet(demo)
    countersigner = make_insurer(demo)
    start_base(demo, countersigner)
    demo.wait("the base", 15, lambda: answers(demo, demo.base))
    pin_policy(demo, countersigner)
    start_truck(demo, "OW-02")
    start_truck(demo, "OW-04", start_instruments(demo))
    for name in ("OW-02", "OW-04"):
        demo.wait(f"{name} to be enrolled", 15, lambda: (answers(demo, truck_address(demo, name)) or {}).get("enrolled"))
    for case, truck, days in (("J-102", "OW-04", 2), ("J-104-105", "OW-02", 1)):
        trace = write_trace(demo, case, days, pictures(case) if case == "J-102" else "")
        demo.client("feed", trace, "--to", truck_address(demo, truck))
        demo.wait(f"{case} to be judged", 20, lambda: job_settled(demo, case))
        demo.say(f"{case} recorded on {truck}, sent to the base and judged")
    demo.say("J-106 begins in real time on OW-04: gpsd and Modbus deliver while the rest goes on")
    live = LiveJob(demo)
    live.start()

    for file in ("front-before.png", "front-after.png"):
        demo.client("attach", "J-102", os.path.join(HERE, file))
    first = claim_and_report(demo, "J-102", "There is a scratch on my front bumper and the motor howls since your man pulled it up.",
                             ["marks=There is a scratch on my front bumper@front bumper", "drive_unit=the motor howls"], "2,350.00")
    verify(demo, find(first, ".flb"), wanted=1)
    demo.say("its bundle verified: proven, not yet countersigned (exit 1)")
    demo.say("the insurer countersigns by files: " + countersign(demo))
    second = claim_and_report(demo, "J-104-105", "He dragged my car out of the garage and now the gearbox whines. "
                              "The radio is dead since he took the cables off.",
                              ["drive_unit=He dragged my car out of the garage and now the gearbox whines",
                               "electronics=The radio is dead since he took the cables off"], "4,280.00")

    bundle = find(second, ".flb")
    checked = verify(demo, bundle, wanted=1)
    with open(demo.path("verified.txt"), "w") as file:
        file.write(checked.stdout)
    if "countersigned by 1 of 1" not in checked.stdout or "not in the bundle" not in checked.stdout:
        raise Failed(f"{bundle}: countersigned, with two pictures that never came, was expected\n{checked.stdout}")
    demo.say("the second report's bundle verified: proven and countersigned; two pictures it names never came (exit 1)")
    refused = verify(demo, altered(demo, bundle))
    if refused.returncode not in (2, 3, 4):
        raise Failed(f"an altered bundle was not refused: exit {refused.returncode}")
    demo.say(f"the same bundle with one bit turned was refused (exit {refused.returncode})")

    live.join(80)
    if live.error or live.is_alive():
        raise Failed(f"the live job: {live.error or 'did not end'}")
    demo.wait("J-106 to be judged", 20, lambda: job_settled(demo, "J-106"))
    demo.say("J-106 closed and judged")
    countersign(demo)
    demo.client("job", "bundle", "J-106", "-o", demo.path("J-106.flb"))
    verify(demo, demo.path("J-106.flb"), wanted=0)
    demo.say("its bundle verified: proven and countersigned, nothing lacks (exit 0)")
    expect(demo)
    since = (TODAY - datetime.timedelta(days=30)).date().isoformat()
    until = (TODAY + datetime.timedelta(days=1)).date().isoformat()
    demo.client("summary", "--from", since, "--to", until, "--jobs-invoiced", "4", "--own-copy", "--out", demo.path("reports", "summary"))
    demo.client("sheet", "J-102", "--out", demo.path("reports", "sheet"))
    demo.say("compliance summary written, the owner's own copy: 4 jobs invoiced, 3 on record; a job sheet of J-102")
    demo.client("ledger", "audit")
    demo.say("every entry of the ledger read again and found whole")


# What the scenario says must come out of the three jobs: rule, verdict.
EXPECTED = {
    "J-102": {"distance": "met", "taut": "met", "strength": "met"},
    "J-104-105": {"distance": "deviated", "order_off": "deviated", "speed": "met"},
    "J-106": {"taut": "met", "strength": "deviated", "strength.count": "met"},
}


def expect(demo):
    for job, wanted in EXPECTED.items():
        findings = [json.loads(line) for line in json.loads(demo.client("job", "show", job, "--json"))["finding"]]
        for rule, verdict in wanted.items():
            found = [one for one in findings if one["rule"] == rule and one["applies"] == "yes"]
            if not found or any(one["verdict"] != verdict for one in found):
                raise Failed(f"{job} {rule}: {found}, wanted {verdict}")
            demo.lines.append(f"  {job:<10} {found[0]['sentence']}")


def main():
    programs, out = sys.argv[1], sys.argv[2]
    shutil.rmtree(out, ignore_errors=True)
    os.makedirs(out)
    demo = Demo(programs, out)
    try:
        play(demo)
    except Failed as failure:
        demo.say(f"FAILED: {failure}")
        print(f"logs: {os.path.relpath(out)}/*.log")
        return 1
    finally:
        demo.stop()
    print("\nWhat the record shows:")
    for line in demo.lines:
        print(line if len(line) <= 160 else line[:157] + "...")
    print(f"\nDone in {time.monotonic() - demo.began:.0f} s. Everything lies in {os.path.relpath(out)}:")
    print("  reports/C-*/       two claim reports: HTML, PDF with the record inside, plain PDF, JSON, bundle\n"
          "  reports/summary/   the compliance summary;  reports/sheet/  the job sheet of J-102\n"
          "  insurer/           the pretend insurer's key and what it countersigned;  base/outbox/  the daily head mail\n"
          "  verified.txt       what the offline verifier said of the second report's bundle\n"
          "  base/ OW-02/ OW-04/   ledgers and keys;  *.log  what each process said")
    return 0


if __name__ == "__main__":
    sys.exit(main())
