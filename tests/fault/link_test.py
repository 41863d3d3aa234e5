#!/usr/bin/env python3
"""Store and forward with real processes: the link cut in mid-job, either side killed and restarted.

Nothing may be lost or doubled, and the base must find what `fairlead judge` finds on the same lines.
No outside source: these are the record's own promises (each entry exactly once, acknowledged means
it survives). Usage: link_test.py BUILD_FOLDER cuts|kills
"""
import json
import os
import random
import shutil
import sys
import tempfile
import time

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from stand import Stand  # noqa: E402

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
FLEET = os.path.join(ROOT, "clients", "sim", "fleet")
TRACE = os.path.join(ROOT, "tests", "traces", "J-104-105", "trace.jsonl")
CUTS = 20


def chunks_of(lines, count):
    size = -(-len(lines) // count)
    return [lines[i:i + size] for i in range(0, len(lines), size)]


def identity(line):
    return (line.get("job", ""), line["source"], line["seq"])


def check_lines(stand, lines, own_sources):
    """Every fed line is at the base exactly once; beside them only what the truck itself said."""
    shown = [json.loads(text) for text in json.loads(
        stand.call("job", "show", stand.job, "--lines", "--json").stdout)["line"]]
    fed = [identity(json.loads(line)) for line in lines]
    got = [identity(line) for line in shown if line["source"] not in own_sources]
    assert len(got) == len(set(got)), "a line is there twice"
    assert set(got) == set(fed), f"{len(set(fed) - set(got))} lost, {len(set(got) - set(fed))} strange"


def strip_identity(finding):
    """What must not depend on the way the lines came."""
    return {k: v for k, v in finding.items() if k not in ("revision", "inputsSha256", "registerSha256",
                                                          "procedureSha256", "sentence", "settled")}


def check_findings(stand, folder):
    """The base's findings are those of `fairlead judge` over the base's own lines, and over the fed
    file they have the same verdicts and margins."""
    job = json.loads(stand.call("job", "show", stand.job, "--json").stdout)
    found = [json.loads(text) for text in job["finding"]]
    assert found, "the base judged nothing"
    path = os.path.join(folder, "lines.jsonl")
    with open(path, "w") as out:
        out.write(stand.call("job", "show", stand.job, "--lines").stdout)
    for file in (path, TRACE):
        done = stand.call("judge", file, "--procedure", "boost", "--procedure", "load", "--register", FLEET,
                          "--json", check=False)
        assert done.returncode in (0, 1, 2), done.stderr
        judged = [json.loads(text) for text in done.stdout.splitlines() if text]
        want = sorted(json.dumps(strip_identity(f), sort_keys=True) for f in judged)
        have = sorted(json.dumps(strip_identity(f), sort_keys=True) for f in found)
        differ = [pair for pair in zip(want, have) if pair[0] != pair[1]]
        assert want == have, f"{os.path.basename(file)}: {len(differ)} findings differ, first: {differ[:1]}"
    deviated = {f["rule"] for f in found if f["verdict"] == "deviated"}
    assert {"distance", "order_off"} <= deviated, f"the scenario's deviations are not found: {deviated}"
    return len(found)


def cut_twenty_times(stand, folder, lines):
    """The job is fed in 21 parts; after each the link is cut, and now and then a side goes down."""
    for i, chunk in enumerate(chunks_of(lines, CUTS + 1)):
        stand.call("feed", "-", "--wait", "20", to=stand.truck_address, stdin="".join(chunk))
        if i < CUTS:
            time.sleep(random.uniform(0, 0.05))
            stand.proxy.cut()
        if i in (3, 11):
            stand.base.stop()
            stand.base.start()
        if i in (6, 15):
            stand.truck.stop()
            stand.truck.start()
        if i in (8, 17):
            stand.base.kill()
            stand.base.start()
        if i in (9, 18):
            stand.truck.kill()
            stand.truck.start()
        if i == 13:
            # No link at all for a while: the truck goes on recording.
            stand.proxy.down = True
            stand.proxy.cut()
        if i == 16:
            stand.proxy.down = False


def kill_twenty_times(stand, folder, lines):
    """The base dies while entries come in; what it had acknowledged to the truck it must still have."""
    for chunk in chunks_of(lines, CUTS):
        stand.call("feed", "-", "--wait", "20", to=stand.truck_address, stdin="".join(chunk))
        time.sleep(random.uniform(0, 0.08))
        acked = stand.status(stand.truck_address)["ackedSeq"]
        stand.base.kill()
        stand.base.start()
        stand.wait("the base to answer", 10,
                   lambda: stand.call("status", "--json", check=False).returncode == 0)
        trucks = {t["name"]: t for t in json.loads(
            stand.call("register", "trucks", "--json").stdout)["truck"]}
        held = int(trucks["OW-02"]["ackedSeq"])
        assert held >= int(acked), f"acknowledged {acked}, held after the kill {held}"


def main():
    programs, way = sys.argv[1], sys.argv[2]
    seed = int(os.environ.get("FAIRLEAD_SEED", "1"))
    random.seed(seed)
    folder = tempfile.mkdtemp(prefix="fairlead_link_")
    stand = Stand(programs, folder, FLEET)
    lines = open(TRACE).readlines()
    stand.job = json.loads(lines[0])["job"]
    begun = time.time()
    try:
        stand.base.start()
        stand.truck.start()
        stand.wait_enrolled()
        stand.wait("the files in force", 20,
                   lambda: stand.status(stand.truck_address)["orders"] != "0")
        time.sleep(0.5)
        (cut_twenty_times if way == "cuts" else kill_twenty_times)(stand, folder, lines)
        stand.wait_drained()
        check_lines(stand, lines, {"truck"})
        # The same file once more adds nothing.
        again = stand.call("feed", TRACE, "--json", to=stand.truck_address)
        assert json.loads(again.stdout)["recorded"] == 0, again.stdout
        stand.wait("the findings", 20, lambda: "distance" in stand.call("job", "show", stand.job).stdout)
        time.sleep(2.5)
        findings = check_findings(stand, folder)
        audit = json.loads(stand.call("ledger", "audit", "--json").stdout)
        assert audit["fault"] == [], audit["fault"]
        assert stand.truck.stop() == 0 and stand.base.stop() == 0
        print(f"{way}: {len(lines)} lines, {findings} findings, {audit['leaves']} entries whole, seed {seed}, "
              f"{time.time() - begun:.0f} s")
    except BaseException:
        print(stand.logs(), file=sys.stderr)
        raise
    finally:
        stand.end()
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
