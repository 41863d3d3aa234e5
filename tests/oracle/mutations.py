#!/usr/bin/python3
"""Seeded mutations of the judge: each is held against the naive evaluator, the written cases and the unit tests.

    /usr/bin/python3 -B tests/oracle/mutations.py BUILD [--seed N] [--each N] [--files NAME,NAME] [--random N]
                                               [--jobs N] [--show NAME] [--unseen] [--again]

BUILD holds judge_many, judge_facts_test, judge_test and judge_gear_test, built. A mutant changes one operator, number, name, condition
or statement of a rule form or of the code they share (mutants.py says how). No source of the tree is touched: the
changed file is compiled on its own (-O0, headers compiled beforehand) and linked before the libraries, whose own
copy is then left out. Tests in turn, until one fails: the written cases and the random ones that use the form,
against the naive evaluator and what the case expects (by: naive, written, crash); the unit tests (unit);
jobs judged while they run against all their lines at once, 600 cases (live); the properties of properties.py, 200 cases
(property); golden.txt and random_pins.txt (golden, pinned: a case's evidence, instant or basis is another, which says that
something changed and not that it is wrong, so the sum is given without them too).

One that does not compile is no mutant, and another takes its place. One that changes nothing that could be seen is
counted apart, and only where equivalent_mutants.json gives the reason. Results are kept in
build/long/mutations/log.jsonl: caught stays caught as long as the mutated file is the same, what lives is tried again when
tests have changed (--again: everything). --unseen passes over mutants that another seed has tried. Exit 1 if fewer than 95 % are caught.
"""

import hashlib
import json
import multiprocessing
import os
import random
import re
import shlex
import signal
import subprocess
import sys
import tempfile

import mutants
import mutation_cases

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
JUDGE = os.path.join(ROOT, "daemon", "judge")
FOLDER = os.path.join(ROOT, "build", "long", "mutations")
LOG = os.path.join(FOLDER, "log.jsonl")
EQUIVALENT = os.path.join(HERE, "equivalent_mutants.json")
SHARED = ["forms.cpp", "margins.h", "antecedent.cpp", "timeline.cpp", "phases.cpp", "series.cpp", "fact_book.cpp", "job_lines.cpp",
          "quantities.cpp", "quantities_series.cpp", "job_lines_order.cpp", "read_line.cpp", "bins.cpp", "bin_tally.cpp", "rolled.cpp", "rolled_winch.cpp", "shared_risk.cpp", "line_facts.cpp", "rigging_state.cpp"]
LEAST_SHARE = 0.95
HEADERS = ('#include "daemon/judge/forms.h"\n#include <fmt/format.h>\n#include <algorithm>\n#include <cmath>\n'
           "#include <google/protobuf/descriptor.h>\n")
MANY = "tests/oracle/judge_many"
UNITS = ("tests/unit/judge/judge_facts_test", "tests/unit/judge/judge_test", "tests/unit/judge/judge_gear_test")
TOGETHER = 12  # Mutants of one rule form compiled at once.
LIVE = 600  # Cases judged while they run.
CHUNKS = (400, 2500, 1 << 30)  # Cases up to here, then a look at what came out.


def names():
    return sorted(n for n in os.listdir(JUDGE) if n.startswith("form_") and n.endswith(".cpp")) + SHARED


def together(name):
    """Whether mutants of it can be compiled at once: one function goes out, and it does not call its like."""
    return name.startswith("form_") and name != "form_rule_set.cpp"


def forms_of(name):
    form = name[len("form_"):-len(".cpp")] if name.startswith("form_") else ""
    return ("all_of", "any_of") if form == "rule_set" else (form,) if form else ()


class Builder:
    """Compiles a changed file of daemon/judge and links programs with it."""

    def __init__(self, build):
        self.build = build
        many = self.commands(MANY)
        line = next(c for c in many if c.endswith("daemon/judge/forms.cpp"))
        words, self.flags = shlex.split(line), []
        skip = iter(words[words.index(next(w for w in words if w.endswith("c++"))) + 1:])
        for word in skip:
            if word in ("-o", "-c", "-MT", "-MF"):
                next(skip)
            elif not word.startswith(("-O", "-g", "-W", "-MD")):
                self.flags.append(word)
        self.flags += ["-O0", "-w"]
        self.links = {p: self.link_of(p) for p in (MANY, *UNITS)}
        self.pch = os.path.join(FOLDER, "headers.h")
        with open(self.pch, "w", encoding="utf-8") as out:
            out.write(HEADERS)
        subprocess.run(["c++", *self.flags, "-x", "c++-header", self.pch, "-o", self.pch + ".gch"], check=True)

    def commands(self, target):
        return subprocess.run(["ninja", "-C", self.build, "-t", "commands", target], capture_output=True, text=True,
                              check=True).stdout.splitlines()

    def link_of(self, target):
        line = self.commands(target)[-1]
        words = shlex.split(line.split(" && ")[1])
        return [w for w in words[1:] if w != "-O2"]

    def objects(self, name, text, scratch):
        """Of the changed text; of each source that includes it, where it is a header. None if it is no C++."""
        room = os.path.join(scratch, "daemon", "judge")
        os.makedirs(room, exist_ok=True)
        changed = os.path.join(room, name)
        with open(changed, "w", encoding="utf-8") as out:
            out.write(text)
        sources = [changed] if name.endswith(".cpp") else [
            os.path.join(JUDGE, n) for n in sorted(os.listdir(JUDGE))
            if n.endswith(".cpp") and f'"daemon/judge/{name}"' in mutation_cases.read(os.path.join(JUDGE, n))]
        found = []
        for source in sources:
            out = os.path.join(scratch, os.path.basename(source) + ".o")
            line = ["c++", "-I" + scratch, *self.flags, "-include", self.pch, "-c", source, "-o", out]
            if subprocess.run(line, stderr=subprocess.DEVNULL).returncode:
                return None
            found.append(out)
        os.remove(changed)
        return found

    def together(self, name, texts, scratch):
        """All changed texts of one rule form in one object, each in a namespace of its own, chosen by MUTANT in the
        environment; (object, numbers of those that are C++)."""
        able = list(range(len(texts)))
        source, out = os.path.join(scratch, name), os.path.join(scratch, name + ".o")
        form = re.search(r"^void judge_form\(JobView& \w+, const Rule& \w+, const (\w+)&", texts[0], re.M).group(1)
        while able:
            whole = "".join(line + "\n" for line in texts[0].split("\n") if line.startswith("#include")) + "#include <cstdlib>\n"
            for i in able:
                body = re.sub(r"^#include[^\n]*", "", texts[i], flags=re.M)
                whole += f'#line 1 "mutant-{i}"\n' + body.replace("namespace fairlead::judge {", f"namespace fairlead::judge::m{i} {{")
            arms = "".join(f"    case {i}: return m{i}::judge_form(view, rule, form, out);\n" for i in able)
            whole += f"""#line 1 "choice"
namespace fairlead::judge {{
void judge_form(JobView& view, const Rule& rule, const {form}& form, Outcomes& out) {{
  static const int which = std::atoi(std::getenv("MUTANT"));
  switch (which) {{
{arms}    default: std::abort();
  }}
}}
}}
"""
            with open(source, "w", encoding="utf-8") as file:
                file.write(whole)
            done = subprocess.run(["c++", *self.flags, "-include", self.pch, "-c", source, "-o", out], capture_output=True, text=True,
                                  errors="replace")
            if done.returncode == 0:
                return [out], able
            wrong = {int(n) for n in re.findall(r"mutant-(\d+):\d+:\d+: error", done.stderr)}
            if not wrong:
                raise RuntimeError(done.stderr[-2000:])
            able = [i for i in able if i not in wrong]
        return [], []

    def link(self, target, objects, scratch):
        words = self.links[target]
        at = words.index("-o")
        out = os.path.join(scratch, os.path.basename(target))
        line = ["c++", "-fuse-ld=gold", *objects, *words[:at], "-o", out, *words[at + 2:]]
        done = subprocess.run(line, cwd=self.build, capture_output=True, text=True)
        if done.returncode:
            raise RuntimeError(done.stderr[-2000:])
        return out


class Tests:
    """All that a mutant must pass to live."""

    def __init__(self, build, count, jobs):
        self.builder = Builder(build)
        self.entries = mutation_cases.load(FOLDER, count, jobs)
        base = mutation_cases.outputs(os.path.join(build, MANY), self.entries)
        assert len(base) == len(self.entries), "judge_many as it stands died"
        wrong = 0
        for entry, text in zip(self.entries, base):
            entry["base"] = text
            found = mutation_cases.wrong_with(entry, text)
            wrong += found is not None
            if found:
                print(f"{entry['name']}: as it stands: {found}", flush=True)
        if wrong:
            sys.exit(f"{wrong} cases do not agree with the judge as it stands; mend that first")
        state = hashlib.sha256()
        for entry in self.entries:
            state.update(entry["key"].encode())
        for folder in (os.path.join(ROOT, "tests/unit/judge"), os.path.join(ROOT, "tests/unit/judge/facts"), HERE):
            for name in sorted(os.listdir(folder)):
                if name.endswith((".cpp", ".h", ".py")) and not name.startswith("mutat"):
                    state.update(mutation_cases.read(os.path.join(folder, name)).encode())
        self.digest = state.hexdigest()

    def by_cases(self, name, program, env):
        """Who catches it; of how many cases, and written ones, the output changed at all up to there; the first written
        case of which golden.txt would say otherwise."""
        forms = forms_of(name)
        chosen = [e for e in self.entries if not forms or set(forms) & set(e["forms"])]
        start = changed = of_written = 0
        pinned = ""
        for end in CHUNKS:
            part = chosen[start:end]
            found = mutation_cases.outputs(program, part, env)
            for entry, text in zip(part, found):
                if text == entry["base"]:
                    continue
                changed += 1
                of_written += entry["spec"] is not None
                if not pinned and mutation_cases.said_of(text) != mutation_cases.said_of(entry["base"]):
                    pinned = f"{'golden' if entry['spec'] else 'pinned'} ({entry['name']})"
                wrong = mutation_cases.wrong_with(entry, text)
                if wrong:
                    return f"{wrong.split(':')[0]} ({entry['name']})", changed, of_written, pinned
            if len(found) < len(part):
                return f"crash ({part[len(found)]['name']})", changed, of_written, pinned
            start = end
        return "", changed, of_written, pinned

    def by_units(self, programs, env):
        for program in programs:
            done = subprocess.run([program, "--gtest_fail_fast", "--gtest_brief=1"], cwd=ROOT, capture_output=True, text=True,
                                  errors="replace", env=env, preexec_fn=mutation_cases.limited)
            if done.returncode:
                failed = [line for line in done.stdout.splitlines() if line.startswith("[  FAILED  ]")][:1]
                return "unit (" + (failed[0][13:].split(" ")[0] if failed else "died") + ")"
        return ""

    def by_live(self, name, program, env):
        """As the test judge_live does, on cases that use the form."""
        forms = forms_of(name)
        chosen = [e for e in self.entries if not forms or set(forms) & set(e["forms"])][:LIVE]
        found = mutation_cases.outputs([program, "--live"], chosen, env)
        wrong = next((e["name"] for e, text in zip(chosen, found) if text.startswith("!live")), "")
        return f"live ({wrong})" if wrong else "live (died)" if len(found) < len(chosen) else ""

    @staticmethod
    def by_properties(program, env):
        done = subprocess.run([sys.executable, "-B", os.path.join(HERE, "properties.py"), program, "--random", "200", "--jobs", "1"],
                              capture_output=True, env=env)
        return "" if b" 0 broken;" in done.stdout else "property"

    def by(self, name, texts):
        """Of each: (who catches it, changed outputs, of them of written cases); None where it does not compile."""
        out = [None] * len(texts)
        with tempfile.TemporaryDirectory(dir=FOLDER) as scratch:
            if together(name):
                objects, able = self.builder.together(name, texts, scratch)
            else:
                objects = self.builder.objects(name, texts[0], scratch)
                able = [] if objects is None else [0]
            program = self.builder.link(MANY, objects, scratch) if able else ""
            units = []
            for i in able:
                env = dict(os.environ, MUTANT=str(i))
                by, changed, of_written, pinned = self.by_cases(name, program, env)
                if not by:
                    units = units or [self.builder.link(target, objects, scratch) for target in UNITS]
                    by = (self.by_units(units, env) or self.by_live(name, program, env) or
                          (self.by_properties(program, env) if changed else "") or pinned)
                out[i] = by, changed, of_written
        return out


TESTS = None


def try_some(task):
    name, some = task
    text = mutation_cases.read(os.path.join(JUDGE, name))
    return TESTS.by(name, [text[:start] + after + text[end:] for _, start, end, after in some])


def shares(name, some, jobs):
    """One or more mutants each: as many as are compiled together."""
    size = min(TOGETHER, -(-len(some) // jobs)) if together(name) else 1
    return [some[i:i + size] for i in range(0, len(some), size or 1)]


def known_rows():
    if not os.path.exists(LOG):
        return {}
    with open(LOG, encoding="utf-8") as file:
        return {row["id"]: row for row in map(json.loads, file)}


def reasons():
    rows = json.loads(mutation_cases.read(EQUIVALENT)) if os.path.exists(EQUIVALENT) else []
    return {(row["file"], row["was"], row["now"], row.get("nth", 0)): row["why"] for row in rows}


class Run:
    """The mutants of one call, file by file."""

    def __init__(self, options):
        self.options, self.known, self.reasons = options, known_rows(), reasons()
        self.counts = {}

    def row_of(self, name, text, mutant):
        was, now, line, nth = mutants.changed_line(text, mutant)
        same = hashlib.sha256(f"{name}\0{text[:mutant[1]]}{mutant[3]}{text[mutant[2]:]}".encode()).hexdigest()[:20]
        return {"id": same, "file": name, "line": line, "kind": mutant[0], "was": was, "now": now, "nth": nth}

    def tell(self, row):
        count = self.counts.setdefault(row["file"], {})
        why = self.reasons.get((row["file"], row["was"], row["now"], row["nth"]))
        what = row["by"].split(" ")[0] if row["by"] else "equivalent" if why else "live"
        count[what] = count.get(what, 0) + 1
        if what == "equivalent":
            print(f"  equivalent {row['file']}:{row['line']}: {row['was']}  ->  {row['now']}\n    {why}", flush=True)
        if what == "live":
            print(f"  LIVES {row['file']}:{row['line']} [{row['kind']}, {row['changed']} outputs changed, {row['written']} of them written]\n    {row['was']}\n"
                  f"    {row['now']}", flush=True)
        elif self.options["show"] == "all":
            print(f"  {row['file']}:{row['line']}: {row['was']}  ->  {row['now']}: {row['by']}", flush=True)

    def settled(self, row):
        old = self.known.get(row["id"])
        if old is None or self.options["again"]:
            return None
        return old if old["by"] is None or old["by"] or old["tests"] == TESTS.digest else None

    def file(self, pool, name):
        text = mutation_cases.read(os.path.join(JUDGE, name))
        order = mutants.spread(text, random.Random(f"{self.options['seed']} {name}"), 1 << 30)
        wanted, queue = self.options["each"], []
        tasks = iter(order)
        while wanted:
            if not queue:
                for mutant in tasks:
                    row = self.row_of(name, text, mutant)
                    if self.options["unseen"] and row["id"] in self.seen:
                        continue
                    queue.append((mutant, row))
                    if len(queue) >= wanted:
                        break
                if not queue:
                    break
                todo = shares(name, [pair for pair in queue if self.settled(pair[1]) is None], self.options["jobs"])
                for share, found in zip(todo, pool.imap(try_some, [(name, [mutant for mutant, _ in share]) for share in todo])):
                    for (_, row), result in zip(share, found):
                        row["by"], row["changed"], row["written"] = result or (None, 0, 0)
                        row.update(tests=TESTS.digest, seed=self.options["seed"])
                        self.known[row["id"]] = row
                        with open(LOG, "a", encoding="utf-8") as out:
                            out.write(json.dumps(row) + "\n")
            _, row = queue.pop(0)
            row = dict(self.known[row["id"]], line=row["line"])
            if row["by"] is None:
                continue
            wanted -= 1
            self.tell(row)
        count = self.counts.get(name, {})
        if not count:
            sys.exit(f"{name}: none of its mutants is C++")
        print(f"{name}: " + ", ".join(f"{n} {what}" for what, n in sorted(count.items())), flush=True)

    def sum(self):
        total = {}
        for count in self.counts.values():
            for what, n in count.items():
                total[what] = total.get(what, 0) + n
        live, equivalent = total.pop("live", 0), total.pop("equivalent", 0)
        caught = sum(total.values())
        some = caught - total.get("golden", 0) - total.get("pinned", 0)
        if some < caught:
            print(f"without golden.txt and random_pins.txt: {some} caught, {100 * some / max(1, caught + live):.1f} % of {caught + live}")
        print(f"{caught} caught (" + ", ".join(f"{n} {what}" for what, n in sorted(total.items())) + f"), {live} live, "
              f"{equivalent} equivalent and not counted; {100 * caught / max(1, caught + live):.1f} % of {caught + live}")
        return 0 if caught and caught >= LEAST_SHARE * (caught + live) else 1


def main(arguments):
    global TESTS
    build = os.path.abspath(arguments.pop(0))
    options = {"seed": 1, "each": 10, "files": "", "random": 10000, "jobs": 2, "show": "", "unseen": False, "again": False}
    while arguments:
        key = arguments.pop(0).removeprefix("--")
        kind = type(options[key])
        options[key] = True if kind is bool else kind(arguments.pop(0))
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    os.makedirs(FOLDER, exist_ok=True)
    TESTS = Tests(build, options["random"], options["jobs"])
    print(f"{len(TESTS.entries)} cases stand", flush=True)
    run = Run(options)
    run.seen = {row["id"] for row in run.known.values() if row.get("seed") != options["seed"]}
    chosen = [n for n in names() if not options["files"] or any(part in n for part in options["files"].split(","))]
    first = mutation_cases.read(os.path.join(JUDGE, chosen[0]))
    if TESTS.by(chosen[0], [first])[0][0]:
        sys.exit(f"{chosen[0]}: unchanged, and yet caught; mend that first")
    with multiprocessing.Pool(options["jobs"]) as pool:
        for name in chosen:
            run.file(pool, name)
    return run.sum()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
