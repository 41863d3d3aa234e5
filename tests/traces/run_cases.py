#!/usr/bin/python3
"""Runs `fairlead judge` over every case folder here and compares with what the case expects.

    /usr/bin/python3 tests/traces/run_cases.py [PROGRAM] [CASE ...]

PROGRAM defaults to build/release/bin/fairlead. Prints the differences and a closing line;
exit 1 on any failure. A case is a folder with trace.jsonl and case.json:

    procedures  shipped names, or files of the folder; register  "fleet", a file of the folder, or ""
    exit        the exit code (or a list); stderr  patterns its text must match; args  further arguments
    expected    findings: rule, procedure?, applies, verdict, reason?, basis?, unit?, best/lo/hi +- tol?,
                inside? (lo <= it <= hi), at?, settled?, cites? ("operator:3", "operator:3
                critical"); tol_best_only: only best is held against tol
    naive       false: not for the second evaluator (tests/oracle), which knows ended jobs only
    others      "met": every finding not named must be met or not apply
    revisions  with --arrivals: words (verdicts or reasons) its revisions must show in this order;
                never: a verdict none of them may have
    same_output_as  another case whose stdout must be the same bytes
"""

import hashlib
import json
import os
import re
import subprocess
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
SHIPPED = os.path.join(ROOT, "daemon", "judge", "procedures")
FLEET = os.path.join(ROOT, "clients", "sim", "fleet")


def procedure_path(case, name):
    return os.path.join(HERE, case, name) if name.endswith(".textproto") else os.path.join(SHIPPED, name + ".textproto")


def command(program, case, spec):
    line = [program, "judge", os.path.join(HERE, case, "trace.jsonl")]
    for name in spec["procedures"]:
        line += ["--procedure", procedure_path(case, name)]
    if spec["register"]:
        line += ["--register", FLEET if spec["register"] == "fleet" else os.path.join(HERE, case, spec["register"])]
    return line + ["--json"] + spec.get("args", [])


def close_to(got, want, tol):
    if want is None or got is None:
        return want is None and got is None
    return abs(got - want) <= tol + 1e-9


def allowed(got, want):
    return got in want if isinstance(want, list) else got == want


def compare(finding, want):
    """Differences of one finding from what is expected, as (field, got, want)."""
    found = []
    for key in ("applies", "verdict", "reason", "basis", "unit", "at", "settled"):
        if key in want and not allowed(finding.get(key), want[key]):
            found.append((key, finding.get(key), want[key]))
    keys = ("best",) if want.get("tol_best_only") else ("best", "lo", "hi")
    for key in keys:
        got = finding.get("margin" + key.capitalize())
        if key in want and not close_to(got, want[key], want.get("tol", 0)):
            found.append(("margin" + key.capitalize(), got, f"{want[key]} +-{want.get('tol', 0)}"))
    if "inside" in want:
        lo, hi = finding.get("marginLo"), finding.get("marginHi")
        if not ((lo is None or lo <= want["inside"]) and (hi is None or want["inside"] <= hi)):
            found.append(("margin range", f"{lo} .. {hi}", f"holds {want['inside']}"))
    cited = {word for e in finding.get("evidence", []) for word in (f"{e['source']}:{e['seq']}",
                                                                    f"{e['source']}:{e['seq']} {e['role']}")}
    for line in want.get("cites", []):
        if line not in cited:
            found.append(("evidence", sorted(cited), line))
    told = [f"{e['source']}:{e['seq']} {e['role']}" for e in finding.get("evidence", [])]
    if "cites_only" in want and told != want["cites_only"]:
        found.append(("evidence", told, want["cites_only"]))
    return found


def sane(finding):
    """What holds for every finding: order of the bounds, sign by verdict, nothing where it does not apply."""
    lo, best, hi = (finding[k] for k in ("marginLo", "marginBest", "marginHi"))
    known = [m for m in (lo, best, hi) if m is not None]
    if known != sorted(known):
        return [("margins", (lo, best, hi), "lo <= best <= hi")]
    if finding["applies"] == "no" and (finding["verdict"] != "" or known):
        return [("verdict", (finding["verdict"], lo, best, hi), "nothing where the rule does not apply")]
    if finding["verdict"] == "met" and lo is not None and lo < 0:
        return [("marginLo", lo, "not below 0 when met")]
    under = ", limit under " in finding["sentence"]  # excludes the limit itself: 0 is outside there
    if finding["verdict"] == "met" and under and lo == 0:
        return [("marginLo", lo, "above 0 when under a limit")]
    if finding["verdict"] == "deviated" and hi is not None and (hi > 0 or hi == 0 and not under):
        return [("marginHi", hi, "below 0 when deviated, at most 0 when not under its limit")]
    if (finding["verdict"] == "unproven") != (finding["reason"] != ""):
        return [("reason", finding["reason"], "given exactly when unproven")]
    if not finding["sentence"]:
        return [("sentence", "", "some words")]
    return []


def last_revisions(spec, findings, problems):
    """The last word on each rule; what came before is held against `revisions` and `never`."""
    for want in spec["expected"]:
        told = [f for f in findings if f["rule"] == want["rule"]]
        wanted = list(want.get("revisions", []))
        for finding in told:
            if wanted and wanted[0] in (finding["verdict"], finding["reason"]):
                wanted.pop(0)
            if finding["verdict"] == want.get("never"):
                problems.append((want["rule"], "revision", finding["verdict"], "never " + want["never"]))
        if wanted:
            problems.append((want["rule"], "revisions", [f["verdict"] + " " + f["reason"] for f in told], want["revisions"]))
    return list({(f["procedureSha256"], f["rule"]): f for f in findings}.values())


def check_findings(case, spec, findings):
    names = {}
    for name in spec["procedures"]:
        with open(procedure_path(case, name), "rb") as file:
            names[hashlib.sha256(file.read()).hexdigest()] = name.removesuffix(".textproto")
    problems, named = [], set()
    if "--arrivals" in spec.get("args", []):
        findings = last_revisions(spec, findings, problems)
    for want in spec["expected"]:
        hits = [i for i, f in enumerate(findings) if f["rule"] == want["rule"] and
                want.get("procedure") in (None, names.get(f["procedureSha256"]))]
        if len(hits) != 1:
            problems.append((want["rule"], "findings", len(hits), 1))
        for i in hits:
            named.add(i)
            problems += [(want["rule"],) + d for d in compare(findings[i], want)]
    for i, finding in enumerate(findings):
        problems += [(finding["rule"],) + d for d in sane(finding)]
        if finding["procedureSha256"] not in names:
            problems.append((finding["rule"], "procedureSha256", finding["procedureSha256"], "that of a given file"))
        if spec.get("others") == "met" and i not in named and finding["verdict"] not in ("met", ""):
            got = " ".join(str(finding[k]) for k in ("applies", "verdict", "reason", "marginLo", "marginBest", "marginHi"))
            problems.append((f"{names.get(finding['procedureSha256'])}.{finding['rule']}", "verdict", got, "met or not applying"))
    return problems


def run(program, case, outputs):
    with open(os.path.join(HERE, case, "case.json"), encoding="utf-8") as file:
        spec = json.load(file)
    done = subprocess.run(command(program, case, spec), capture_output=True, timeout=60, cwd=ROOT)
    outputs[case] = done.stdout
    stderr = done.stderr.decode(errors="replace")
    if done.returncode not in (0, 1, 2, 3):
        return spec, [("", "exit", f"{done.returncode}: {stderr.strip()[:200]}", "no crash")]
    problems = []
    if not allowed(done.returncode, spec["exit"]):
        problems.append(("", "exit", done.returncode, spec["exit"]))
    for pattern in spec.get("stderr", []):
        if not re.search(pattern, stderr):
            problems.append(("", "stderr", stderr.strip()[:200], pattern))
    if done.returncode == 3:
        if done.stdout:
            problems.append(("", "stdout", done.stdout[:80], "nothing, as the input is bad"))
        if spec["expected"]:
            problems.append(("", "stderr", stderr.strip()[:400], "findings"))
        return spec, problems
    try:
        findings = [json.loads(line) for line in done.stdout.decode().splitlines() if line]
    except ValueError as error:
        return spec, problems + [("", "stdout", str(error), "one JSON object a line")]
    return spec, problems + check_findings(case, spec, findings)


def main(arguments):
    program = arguments[0] if arguments else os.path.join(ROOT, "build/release/bin/fairlead")
    if not os.access(program, os.X_OK):
        print(f"{program}: not there; build it (ninja -C build/release fairlead) or name it as the first argument")
        return 1
    program = os.path.abspath(program)
    cases = arguments[1:] or sorted(c for c in os.listdir(HERE) if os.path.exists(os.path.join(HERE, c, "case.json")))
    outputs, specs, problems = {}, {}, {}
    for case in cases:
        specs[case], problems[case] = run(program, case, outputs)
    for case in cases:
        other = specs[case].get("same_output_as")
        if other in outputs and outputs[other] != outputs[case]:
            problems[case].append(("", "stdout", "other bytes", f"those of {other}"))
    failed = [case for case in cases if problems[case]]
    for case in failed:
        print(f"{case}: {specs[case]['about']} [{specs[case]['source']}]")
        for rule, field, got, want in problems[case]:
            print(f"    {rule:<22} {field:<12} got {got}  expected {want}")
    print(f"{len(cases) - len(failed)} passed, {len(failed)} failed")
    return 1 if failed or not cases else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
