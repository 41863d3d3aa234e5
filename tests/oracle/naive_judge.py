#!/usr/bin/python3
"""A second, independent evaluator of the twelve rule forms and of sets of rules: slow, plain, exact.

Written from the vocabulary and the rule semantics alone, in integers and fractions (floats only in
sin and cos of a tilt). Same command line as `fairlead judge`, so tests/traces/run_cases.py runs it too:

    naive_judge.py judge TRACE --procedure FILE ... [--register FILE_OR_FOLDER] [--job ID] --json

Not here: the distance by a GPS tag (verdict "skipped"), revisions, live warnings, refusals of input.
"""

import hashlib
import json
import os
import sys

from naive_facts import Job
from naive_measures import limit_in_phase
from naive_order import comes_first, evidence_present
from naive_recheck import recheck_every
from naive_rules import Skipped, finding, phase_fact
from naive_strength import enough_strength
from naive_text import micros, one, parse_text, read_lines
from naive_timed import TIMED, rule_set
from naive_ways import total_in_phase

FORMS = {"comes_first": comes_first, "limit_in_phase": limit_in_phase, "total_in_phase": total_in_phase,
         "enough_strength": enough_strength, "evidence_present": evidence_present,
         "recheck_every": recheck_every, **TIMED}
SETS = ("all_of", "any_of")


def evaluate(job, proc, rule):
    for kind in SETS:
        if kind in rule:
            return rule_set(job, proc, rule, one(rule, kind)["rule"], kind == "all_of",
                            lambda part: evaluate(job, proc, part))
    form = next(k for k in rule if k in FORMS)
    return FORMS[form](job, proc, rule, one(rule, form))


def judge(trace, procedures, register_paths, job_id=None):
    """Findings of one job, as the program prints them."""
    lines, broken = read_lines(trace, job_id)
    register = {}
    for path in register_paths:
        for key, values in parse_text(open(path, encoding="utf-8").read()).items():
            register.setdefault(key, []).extend(values)
    job = Job(lines, broken, register)
    out = []
    for path in procedures:
        raw = open(path, "rb").read()
        proc = parse_text(raw.decode())
        of_this = []
        job.phases = {one(phase, "id"): lambda phase=phase: phase_fact(job, proc, one(phase, "id"))
                      for phase in proc.get("phase", [])}
        for rule in proc["rule"]:
            try:
                found = evaluate(job, proc, rule)
            except Skipped as why:
                found = dict(finding(one(rule, "id"), "yes", "skipped"), sentence=str(why))
            for item in found if isinstance(found, list) else [found]:
                if broken and item["verdict"] == "unproven" and item["reason"] == "no_data":
                    item["reason"] = "sources_disagree"
                # Nothing is lost, so what is unknown is whether a word lasted whose clock stepped back.
                if job.blurred() and not any(job.gaps.values()) and item["reason"] == "no_data":
                    item["reason"] = "clock_doubt"
                item["procedureSha256"] = hashlib.sha256(raw).hexdigest()
                of_this.append((rule, item))
        doubted = {name for _, item in of_this for name in item.pop("doubted", [])}
        for rule, item in of_this:  # what is built on two sources that disagree is neither met nor deviated
            if item["verdict"] in ("met", "deviated") and any(name in str(rule) for name in doubted):
                item.update(verdict="unproven", reason="sources_disagree")
            out.append(item)
    return out


def main(arguments):
    procedures, registers, job = [], [], None
    rest = arguments[2:]
    while rest:
        key = rest.pop(0)
        if key == "--procedure":
            procedures.append(rest.pop(0))
        elif key == "--register":
            path = rest.pop(0)
            registers += sorted(os.path.join(path, f) for f in os.listdir(path) if f.endswith(".textproto")) \
                if os.path.isdir(path) else [path]
        elif key == "--job":
            job = rest.pop(0)
    findings = judge(arguments[1], procedures, registers, job)
    for item in findings:
        print(json.dumps(item))
    verdicts = {f["verdict"] for f in findings}
    return 2 if "deviated" in verdicts else 1 if verdicts - {"met", "", "skipped"} else 0


if __name__ == "__main__":
    assert micros("2016-12-31T23:59:60Z") == micros("2016-12-31T23:59:59.999999Z")
    sys.exit(main(sys.argv[1:]))
