#!/usr/bin/python3
"""What `fairlead judge` and `fairlead check-procedure` print besides findings: answers wrapped for a narrow screen,
rules explained, sets with their members, complaints that many lines share, folders. No outside source.
Usage: judge_command_test.py PROGRAM"""

import json
import os
import subprocess
import sys
import tempfile
import unittest

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
TRACE = os.path.join(ROOT, "tests", "traces", "J-104", "trace.jsonl")
FLEET = os.path.join(ROOT, "clients", "sim", "fleet")
ORIGIN = 'origin { text: "common practice, no source" standing: PRACTICE }'
SETS = f"""id: "sets"  version: "1.0"  title: "Sets"
rule {{ id: "looked" title: "Somebody has looked" {ORIGIN}
  any_of {{
    rule {{ id: "scene" comes_first {{ first: "scene.set.on" then: "first_touch" }} }}
    rule {{ id: "late" comes_first {{ first: "closed" then: "first_touch" }} }} }} }}
rule {{ id: "smoke" title: "Smoke, then the scene" {ORIGIN}
  wait_between {{ from: "smoke.on" to: "scene.set.on" at_most: "10 s" }} }}
"""


def run(*words, columns=None):
    plain = {name: value for name, value in os.environ.items() if name != "COLUMNS"}
    if columns:
        plain["COLUMNS"] = str(columns)
    return subprocess.run([PROGRAM, *words], env=plain, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


class JudgeCommand(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)
        self.sets = self.file("sets.textproto", SETS)

    def file(self, name, text):
        path = os.path.join(self.folder.name, name)
        with open(path, "w", encoding="utf-8") as out:
            out.write(text)
        return path

    def judge(self, *words, procedure="load", **more):
        return run("judge", TRACE, "--procedure", procedure, "--register", FLEET, *words, **more)

    def test_one_line_a_finding_where_a_program_reads(self):
        count = len(self.judge("--json").stdout.splitlines())
        lines = self.judge().stdout.splitlines()
        self.assertEqual(len(lines), count)
        self.assertTrue(all("; procedure load " in line for line in lines))

    def test_wrapped_under_one_heading(self):
        for columns in (60, 80):
            out = self.judge(columns=columns).stdout
            self.assertLessEqual(max(map(len, out.splitlines())), columns)
            self.assertEqual(out.count("procedure load "), 1)
            for finding in map(json.loads, self.judge("--json").stdout.splitlines()):
                self.assertIn(finding["rule"] + ": ", out)
            self.assertNotIn(" met: met", " ".join(out.split()))

    def test_the_wrapped_answer_says_all_and_the_title(self):
        flat = " ".join(self.judge(columns=72).stdout.split())
        lines = self.judge().stdout.splitlines()
        for line in lines:
            body = line[:line.rindex("; procedure ")].split(": ", 1)[1]
            self.assertEqual(flat.count(body), sum(body in one for one in lines), body)
        self.assertIn("taut: met: Line taut before the car goes free-rolling", flat)

    def test_a_set_is_explained_by_its_members(self):
        out = self.judge("--explain", "looked", procedure=self.sets).stdout
        members = [line for line in out.splitlines() if line.startswith("  of which ")]
        self.assertEqual([line.split()[2] for line in members], ["scene", "late"])
        self.assertIn("late deviated", members[1])

    def test_a_member_and_several_rules_are_explained(self):
        done = self.judge("--explain", "late", "--explain", "smoke", procedure=self.sets)
        self.assertTrue(done.stdout.startswith("late deviated"), done.stdout)
        self.assertIn("smoke does not apply: no scene.set.on came while smoke.on was still in force", done.stdout)
        self.assertIn(done.returncode, (0, 1, 2))

    def test_what_explain_cannot_do_is_refused(self):
        for words, says in ((("--explain", "looked", "--json"), "leave --json"),
                            (("--explain", "lookd"), "the nearest is 'looked'"),
                            (("--explain", "looked", "--explain", "quite-another"), "one of looked, scene, late, smoke")):
            done = self.judge(*words, procedure=self.sets)
            self.assertEqual((done.returncode, done.stdout), (3, ""))
            self.assertIn(says, done.stderr)

    def test_a_complaint_that_many_lines_share_stands_once(self):
        with open(TRACE, encoding="utf-8") as file:
            opened = file.readline()
        wrong = '{"time":"2026-03-02T10:00:%02dZ","source":"line","seq":%d,"sample":{"signal":"line.pul","value":1}}\n'
        path = self.file("t.jsonl", opened + "".join(wrong % (i, i) for i in range(1, 50)) + "{}\n")
        done = run("judge", path, "--procedure", "load")
        lines = done.stderr.splitlines()
        self.assertEqual((done.returncode, len(lines)), (3, 3), done.stderr)
        self.assertIn("t.jsonl:2: sample.signal: 'line.pul' is not a known signal", lines[0])
        self.assertTrue(lines[1].endswith("t.jsonl:2: and 48 more like it, to line 50"), lines[1])
        self.assertIn("t.jsonl:51: ", lines[2])

    def test_a_line_that_nobody_rated_wants_a_register(self):
        case = os.path.join(os.path.dirname(os.path.abspath(__file__)), "rigged-no-truck")
        done = run("judge", os.path.join(case, "trace.jsonl"), "--procedure", os.path.join(case, "procedure.textproto"),
                   "--register", os.path.join(case, "register.textproto"), "--explain", "rule")
        self.assertEqual(done.returncode, 1, done.stderr)
        self.assertIn("truck 'truck-77' is not in the register", done.stdout)
        self.assertIn("would decide it: a register that rates the winch line and every piece of gear in it\n", done.stdout)
        self.assertNotIn("readings of line.rating", done.stdout)

    def test_a_folder_is_checked_file_by_file(self):
        self.file("wrong.textproto", 'id: "w"')
        done = run("check-procedure", self.folder.name)
        self.assertIn("sets.textproto: fine: procedure sets 1.0, 0 phases, 0 steps, 2 rules", done.stdout)
        self.assertIn("wrong.textproto:1:1: version: is missing", done.stderr)
        self.assertEqual(done.returncode, 3)

    def test_no_file_is_named_and_names_are_printed(self):
        self.assertEqual(run("check-procedure").returncode, 3)
        done = run("check-procedure", "--names")
        self.assertEqual(done.returncode, 0)
        self.assertLessEqual(max(map(len, done.stdout.splitlines())), 120)


if __name__ == "__main__":
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main()
