"""The cases a mutant is held against, with what the naive evaluator says and what the program as it stands prints.

Written cases of tests/traces first, then random ones. Files and the naive findings are kept in a folder, so that
only what has changed (a case, or the evaluator) is worked out again.
"""

import hashlib
import json
import multiprocessing
import os
import re
import resource
import subprocess

import compare
import naive_judge
import random_cases
import said

HERE = os.path.dirname(os.path.abspath(__file__))
FORM = re.compile(r"\b(comes_first|follows_within|stays_until|wait_between|limit_in_phase|total_in_phase|never_together|"
                  r"enough_strength|recheck_every|evidence_present|count_limit|sources_agree|all_of|any_of) \{")
CPU_SECONDS, MOST_BYTES = 120, 3 << 30


def read(path):
    with open(path, encoding="utf-8") as file:
        return file.read()


def digest_of(*texts):
    return hashlib.sha256("\0".join(texts).encode()).hexdigest()


def naive_digest():
    return digest_of(*(read(os.path.join(HERE, n)) for n in sorted(os.listdir(HERE)) if n.startswith("naive_")))


def expand(registers):
    for path in registers:
        if os.path.isdir(path):
            yield from (os.path.join(path, f) for f in sorted(os.listdir(path)) if f.endswith(".textproto"))
        else:
            yield path


def make_random(task):
    """Writes one random case's files, unless they stand; its entry without the naive findings."""
    seed, folder = task
    family, lines, procedure, register = random_cases.make(seed)
    name = os.path.join(folder, str(seed))
    files = [name + ".jsonl", name + ".p.textproto"] + ([name + ".r.textproto"] if register else [])
    for path, text in zip(files, ("\n".join(lines) + "\n", procedure, register)):
        with open(path, "w", encoding="utf-8") as out:
            out.write(text)
    return {"name": f"seed {seed} {family}", "family": family, "trace": files[0], "procedures": files[1:2], "registers": files[2:], "spec": None}


def written():
    for case, procedures, registers in compare.cases(naive=False):
        spec = json.loads(read(os.path.join(compare.TRACES, case, "case.json")))
        yield {"name": case, "trace": os.path.join(compare.TRACES, case, "trace.jsonl"), "procedures": procedures,
               "registers": list(expand(registers)), "spec": spec}


def judged(task):
    entry, known, evaluator = task
    texts = [read(path) for path in [entry["trace"]] + entry["procedures"] + entry["registers"]]
    entry["forms"] = sorted(set(FORM.findall("".join(texts[1:1 + len(entry["procedures"])]))))
    entry["key"] = digest_of(evaluator, *texts)
    entry["lost"] = compare.lost_lines(entry["trace"])
    able = entry["spec"].get("naive", True) if entry["spec"] else entry["family"] not in random_cases.PINNED_ONLY
    entry["naive"] = able and (known.get(entry["key"]) or
                               naive_judge.judge(entry["trace"], entry["procedures"], entry["registers"]))
    return entry


def load(folder, count, jobs):
    """Every case as an entry, written ones first."""
    os.makedirs(os.path.join(folder, "cases"), exist_ok=True)
    store = os.path.join(folder, "naive.jsonl")
    known = {}
    if os.path.exists(store):
        with open(store, encoding="utf-8") as file:
            known = {row["key"]: row["naive"] for row in map(json.loads, file)}
    evaluator = naive_digest()
    with multiprocessing.Pool(jobs) as pool:
        seeds = [seed for first, most in random_cases.TESTED.items() for seed in range(first, first + most * count // 10_000)]
        entries = list(written()) + pool.map(make_random, [(seed, os.path.join(folder, "cases")) for seed in seeds], 100)
    global STORE
    STORE = (known, evaluator)
    with multiprocessing.Pool(jobs) as pool:
        entries = pool.map(judge_known, entries, 100)
    with open(store + ".new", "w", encoding="utf-8") as out:
        for entry in entries:
            out.write(json.dumps({"key": entry["key"], "naive": entry["naive"]}) + "\n")
    os.replace(store + ".new", store)
    return entries


STORE = ({}, "")


def judge_known(entry):
    return judged((entry, *STORE))


def limited():
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS + 2))
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def outputs(program, entries, env=None):
    """What the program prints on each, as text; fewer where it died."""
    asked = "".join("\t".join([e["trace"], ",".join(e["procedures"])] + e["registers"]) + "\n" for e in entries)
    done = subprocess.run([program] if isinstance(program, str) else program, input=asked.encode(), stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                          env=env, preexec_fn=limited)
    found, lines = [], []
    for line in done.stdout.decode(errors="replace").split("\n")[:-1]:
        if line and not line.startswith("!"):
            lines.append(line)
            continue
        found.append("\n".join(lines + ([line] if line else [])))
        lines = []
    return found


def said_of(text):
    """What golden.txt and random_pins.txt keep a digest of."""
    return text if text.startswith("!") else said.said(json.loads(line) for line in text.split("\n") if line)


def wrong_with(entry, text):
    """What the naive evaluator or the written case holds against this output; None if nothing."""
    if text.startswith("!"):
        return "refused: " + text[:100]
    findings = [json.loads(line) for line in text.split("\n") if line]
    found = compare.differences(findings, entry["naive"], entry["lost"]) if entry["naive"] else None
    if found:
        return "naive: " + str(found[0])
    if entry["spec"]:
        found = compare.run_cases.check_findings(entry["name"], entry["spec"], findings)
        if found:
            return "written: " + str(found[0])
    return None
