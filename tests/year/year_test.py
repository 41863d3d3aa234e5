"""The invented year: what a base says of it must be what was drawn.

    /usr/bin/python3 -B tests/year/year_test.py BUILD [JOBS [SECONDS]]

Makes the year with fairlead-sim-year, starts a base on it, asks for the summary of the whole year,
and holds every rule's counts against truth.json (each trace judged alone, before any ledger), the
drawn rates against the printed intervals, the chart against the change that was put in. SECONDS:
the longest a summary may take; absent = not looked at. FAIRLEAD_KEEP=FOLDER keeps the files.
"""
import json
import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time

BUILD = os.path.abspath(sys.argv[1])
JOBS = int(sys.argv[2]) if len(sys.argv) > 2 else 400
SECONDS = float(sys.argv[3]) if len(sys.argv) > 3 else None
TOP = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))


def program(name):
    return os.path.join(BUILD, "bin", name)


def hold(what, condition):
    if not condition:
        sys.exit(f"FAILED: {what}")


def number(text):
    return int(text.replace(",", ""))


def make(folder):
    begun = time.monotonic()
    done = subprocess.run([program("fairlead-sim-year"), folder, "--jobs", str(JOBS), "--source", TOP], timeout=5400)
    hold(f"fairlead-sim-year: exit {done.returncode}", done.returncode == 0)
    print(f"the year was made in {time.monotonic() - begun:.0f} s", flush=True)


class Base:
    def __init__(self, data):
        with socket.socket() as s:
            s.bind(("127.0.0.1", 0))
            self.address = f"127.0.0.1:{s.getsockname()[1]}"
        config = data + ".toml"
        with open(config, "w") as file:
            file.write(f'name = "ozzlewick"\ndata = "{data}"\nlisten = "{self.address}"\n[retention]\non = false\n')
        self.log = open(data + ".log", "wb")
        self.process = subprocess.Popen([program("fairleadd"), "--alone", "--config", config], stdout=self.log, stderr=self.log)
        deadline = time.monotonic() + 120
        while self.call("status", code=None).returncode != 0:
            hold("the base does not start; see " + data + ".log", time.monotonic() < deadline and self.process.poll() is None)
            time.sleep(0.2)

    def call(self, *arguments, code=0):
        done = subprocess.run([program("fairlead"), *arguments], env=dict(os.environ, FAIRLEAD_BASE=self.address),
                              capture_output=True, text=True, timeout=700)
        hold(f"{' '.join(arguments)}: exit {done.returncode}\n{done.stdout}{done.stderr}", code in (None, done.returncode))
        return done

    def stop(self):
        self.process.terminate()
        self.process.wait(60)


def counts(summary, truth):
    rows = {(row["procedure"], row["rule"]): row for row in summary["deviations"]["rows"]}
    checked = 0
    for rule in truth["rules"]:
        if rule["met"] + rule["deviated"] + rule["unproven"] + rule["unknown"] == 0:
            continue
        key = (rule["procedure"], rule["rule"])
        hold(f"{key} is in the summary", key in rows)
        row = rows[key]
        for name, column in (("met", "met"), ("deviated", "deviated"), ("unproven", "unproven"),
                             ("not_applicable", "not_applicable"), ("unknown", "doubtful")):
            hold(f"{key}: {name} {row[column]}, wanted {rule[name]}", number(row[column]) == rule[name])
            checked += 1
    hold("no rule beyond those drawn", len(rows) <= len(truth["rules"]))
    return checked


def whole(summary, truth):
    figures = {row["name"]: row["figure"] for row in summary["completeness"]["rows"]}
    hold(f"jobs opened {figures}", number(figures["Jobs opened on record"]) == truth["jobs"])
    hold(f"jobs closed complete {figures}", number(figures["Jobs closed complete"]) == truth["jobs"])
    hold(f"work without a job {figures}", number(figures["Work sensed without a job"]) == truth["sensed_without_a_job"])
    hold("claims " + summary["claims"]["count"], number(summary["claims"]["count"].split()[0]) == truth["claims"])
    hold("months add up", sum(number(row["jobs"]) for row in summary["claims"]["months"]) == truth["jobs"])


def chances(truth):
    """Of every rule the chance that a judged job deviates, by the drawn shares; a quarter is late."""
    deviated, judged = {}, {}
    for one in truth["variants"]:
        weight = one["work_share"] * (0.75 * one["share"] + 0.25 * one["share_late"])
        for rule, verdict in (one["verdicts"] or {}).items():
            if verdict in ("met", "deviated"):
                judged[rule] = judged.get(rule, 0) + weight
                deviated[rule] = deviated.get(rule, 0) + weight * (verdict == "deviated")
    return {rule: deviated[rule] / judged[rule] for rule in judged if deviated[rule] > 0}


def rates(summary, truth):
    """The drawn chance lies in the printed 95 % interval, for all but about one in twenty."""
    rows = {row["procedure"] + "/" + row["rule"]: row for row in summary["deviations"]["rows"]}
    looked, outside = 0, []
    for rule, chance in sorted(chances(truth).items()):
        row = rows[rule]
        if row["rate"] == "-":
            continue
        looked += 1
        if not float(row["lo"]) - 0.005 <= 100 * chance <= float(row["hi"]) + 0.005:
            outside.append(f"{rule}: drawn {100 * chance:.2f}, printed {row['lo']} to {row['hi']}")
    hold(f"drawn chances lie in the intervals: {outside} of {looked}", len(outside) <= max(1, looked // 8))
    return looked - len(outside), looked


def change(summary):
    """Boost order got three times as frequent in the last quarter: the chart of it must say so."""
    rows = [row for row in summary["change"]["rows"] if "order" in row["what"].lower() or "Negative" in row["what"]]
    words = [row["words"] for row in rows]
    if JOBS >= 10000:
        hold(f"a change of boost order is shown: {words}", any("outside" in one for one in words))
    return words


def main():
    folder = os.environ.get("FAIRLEAD_KEEP") or tempfile.mkdtemp(prefix="fairlead-year-")
    os.makedirs(folder, exist_ok=True)
    data = os.path.join(folder, "year")
    if not os.path.exists(os.path.join(data, "truth.json")):
        make(data)
    with open(os.path.join(data, "truth.json")) as file:
        truth = json.load(file)
    base = Base(data)
    try:
        out = os.path.join(folder, "summary")
        begun = time.monotonic()
        done = base.call("summary", "--from", truth["from"], "--to", truth["to"], "--jobs-invoiced", str(truth["jobs"] + 40), "--out", out)
        took = time.monotonic() - begun
        print(f"summary of {truth['jobs']} jobs in {took:.1f} s; progress lines: {len(re.findall('jobs read', done.stderr))}")
        with open(os.path.join(out, "summary.json")) as file:
            summary = json.load(file)
        whole(summary, truth)
        print(f"{counts(summary, truth)} counts as drawn; drawn rates within their intervals, of how many: {rates(summary, truth)}; change: {change(summary)}")
        begun = time.monotonic()
        found = json.loads(base.call("jobs", "--from", truth["from"], "--json").stdout)
        hold("every job is listed", len(found["job"]) == truth["jobs"])
        print(f"all {len(found['job'])} jobs listed in {time.monotonic() - begun:.1f} s")
        begun = time.monotonic()
        base.call("job", "show", f"Y-{truth['jobs']:05d}", "--json")
        base.call("sheet", f"Y-{truth['jobs'] // 2:05d}", "--out", os.path.join(folder, "sheet"))
        print(f"one job found and its sheet made in {time.monotonic() - begun:.1f} s")
        check = subprocess.run(["qpdf", "--check", os.path.join(out, "summary.pdf")], capture_output=True, text=True)
        hold("qpdf --check: " + check.stdout + check.stderr, check.returncode == 0)
        if SECONDS is not None:
            hold(f"a summary within {SECONDS} s, not {took:.1f}", took <= SECONDS)
    finally:
        base.stop()
    if not os.environ.get("FAIRLEAD_KEEP"):
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
