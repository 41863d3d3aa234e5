#!/usr/bin/python3
"""`fairlead plan` and `register due` as people run them: exit codes, JSON against the text, lines of 80
columns at most, and a drawing that is well-formed and to the scale it says. Expected margins: the
invented scenario."""

import json
import os
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as xml

PROGRAM = sys.argv[1]
LOAD = ["plan", "--register", "clients/sim/fleet", "--gap", "3.6 m", "--date", "2026-11-29"]


def run(*words):
    done = subprocess.run([PROGRAM, *LOAD, *words], capture_output=True, text=True, timeout=30)
    return done.returncode, done.stdout, done.stderr


def holds(what, condition):
    if not condition:
        sys.exit(f"FAILED: {what}")


def margins(plan):
    return {c["id"]: c for c in plan["checks"]}


def fits():
    code, out, err = run("--vehicle", "hauberk", "--truck", "OW-04", "--json")
    holds(f"exit 0 and nothing on stderr, not {code} {err}", code == 0 and not err)
    plan = json.loads(out)
    checks = margins(plan)
    holds("says yes", plan["fits"] == "yes" and plan["changes"] == [])
    for name, best in (("front_axle", 482), ("rear_axle", 962), ("gvwr", 763), ("strength", 1209)):
        holds(f"{name} {best}", abs(checks[name]["marginBest"] - best) <= 0.5)
        holds(f"{name} range", checks[name]["marginLo"] < best + 0.5 and checks[name]["marginHi"] > best - 0.5)
    holds("origins", all(c["origin"] or c["words"] for c in plan["checks"]))


def does_not():
    code, out, _ = run("--vehicle", "hauberk", "--truck", "OW-09", "--json")
    plan = json.loads(out)
    checks = margins(plan)
    holds("exit 2, no", code == 2 and plan["fits"] == "no")
    holds("-0.61 m", checks["deck_length"]["marginBest"] == -0.61)
    holds("-685 kg", checks["payload"]["marginBest"] == -685)
    holds("smallest change is OW-04", plan["changes"][0].startswith("take OW-04 instead"))
    code, out, _ = run("--vehicle", "hauberk", "--truck", "OW-09")
    holds("text", code == 2 and "Fits: no" in out and "Smallest change: take OW-04" in out
          and "-0.61 m" in out and "-685 kg" in out)


def narrow():
    for vehicle, truck in (("hauberk", "OW-04"), ("wrenlet", "OW-01"), ("unknown", "OW-09"), ("cartwell", "OW-09")):
        for more in ([], ["--rolls", "unknown", "--ground", "-3 deg +- 2 deg"], ["--rules", "en12195-2010"],
                     ["--mode", "winch-out", "--surface", "bog"], ["--mode", "unload"], ["--mode", "reposition"]):
            code, out, err = run("--vehicle", vehicle, "--truck", truck, *more)
            holds(f"{vehicle} {more}: {err}", code in (0, 1, 2) and out)
            wide = [line for line in out.splitlines() if len(line) > 80]
            holds(f"80 columns: {wide}", not wide)
            holds("cautions and whom to heed", "(!)" in out and "makers' guides" in out)
            holds("no NaN or infinity shown", "nan" not in out.lower().split() and "inf" not in out.split())
    holds("an unknown car is not shown", run("--vehicle", "unknown", "--truck", "OW-04")[0] == 1)


def wrong():
    for words, says in ((["--vehicle", "hauberg", "--truck", "OW-04"], "'hauberk'"),
                        (["--vehicle", "hauberk", "--truck", "OW-04", "--behind", "3.6"], "--behind: '3.6' has no unit"),
                        (["--vehicle", "hauberk", "--truck", "OW-04", "--rolls", "maybe"], "--rolls: no 'maybe'"),
                        (["--vehicle", "hauberk", "--truck", "OW-04", "--rules", "xx"], "--rules: "),
                        (["--vehicle", "hauberk", "--truck", "OW-04", "--ground", "steep"], "--ground: ")):
        code, out, err = run(*words)
        holds(f"{words}: exit 3, nothing printed, '{says}' in '{err}'", code == 3 and not out and says in err)


def drawing():
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "truck.svg")
        holds("drawn", run("--vehicle", "hauberk", "--truck", "OW-04", "--svg", path)[0] == 0)
        root = xml.parse(path).getroot()
        name = "{http://www.w3.org/2000/svg}"
        scale = [e for e in root.iter(name + "line")][-3]  # The bar of one metre, before its two ends.
        metre = float(scale.get("x2")) - float(scale.get("x1"))
        widths = [float(e.get("width")) / metre for e in root.iter(name + "rect")]
        for what, length in (("deck", 6.40), ("car", 5.90)):
            holds(f"{what} of {length} m to scale", any(abs(w - length) < 0.01 for w in widths))
        words = " ".join(e.text or "" for e in root.iter(name + "text"))
        for wheel in ("LF", "RF", "LR", "RR"):
            holds(f"{wheel} and its share", f"{wheel} OW-04-strap-{wheel}: 756 kg, 25 %" in words)
        holds("axles", "front 4054 kg" in words and "rear 6976 kg" in words and "+482 kg" in words)
        high, wide = float(root.get("height")), float(root.get("width"))
        for e in root.iter(name + "text"):
            holds(f"'{e.text}' lies inside", 0 < float(e.get("x")) < wide and 0 < float(e.get("y")) < high)


def due():
    def ask(*words):
        done = subprocess.run([PROGRAM, "register", "due", "clients/sim/fleet", *words], capture_output=True,
                              text=True, timeout=30)
        return done.returncode, done.stdout, done.stderr

    code, out, _ = ask("--date", "2027-02-01", "--truck", "OW-11", "--json")
    rows = [json.loads(line) for line in out.splitlines()]
    late = {row["id"] for row in rows if row["due"] == "not counted"}
    holds("OW-11's certificates ended on 2027-01-31", code == 2 and "OW-11-load-cell" in late)
    holds("only what is not in order, only OW-11's", all(r["due"] != "in order" and r["truck"] == "OW-11" for r in rows))
    code, out, _ = ask("--date", "2026-11-29", "--truck", "OW-04", "--days", "0")
    holds("only the receiver without certificate", code == 1 and out.split() and "OW-04-receiver" in out
          and len(out.splitlines()) == 1)
    code, out, err = ask("--date", "soon")
    holds("a day that is none", code == 3 and not out and "--date: " in err)


for check in (fits, does_not, narrow, wrong, drawing, due):
    check()
print("plan command: 6 groups hold")
