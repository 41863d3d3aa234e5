#!/usr/bin/env python3
"""The style checks must be able to fail: each is shown bad samples, and good ones beside them."""

import unittest

import arrows
import lengths
import sources
import words


def body(lines):
    return "  a = 1;\n" * lines


class Lengths(unittest.TestCase):
    def test_long_function_is_found_and_short_one_is_not(self):
        for lines, offenders in ((68, 0), (69, 1)):
            text = f"namespace x {{\nint f(int a) {{\n{body(lines)}}}\n}}  // namespace x\n"
            self.assertEqual(len(lengths.check("daemon/base/a.cpp", text)), offenders, lines)

    def test_long_file_is_found(self):
        self.assertEqual(len(lengths.check("a.cpp", "int a;\n" * 601)), 1)
        self.assertEqual(lengths.check("a.cpp", "int a;\n" * 600), [])

    def spans(self, text):
        return [(name, first, last) for name, first, last in lengths.cpp_functions(text)]

    def test_constructor_with_braced_members(self):
        text = "A::A(int a)\n    : a_{a},\n      b_(a) {\n  go();\n}\nint g() { return 1; }\n"
        self.assertEqual(self.spans(text), [("A::A", 1, 5), ("g", 6, 6)])

    def test_braces_in_literals_and_comments_do_not_count(self):
        text = 'int f() {\n  // }\n  auto a = "}";\n  auto b = \'}\';\n  auto c = R"x(})x";\n}\n'
        self.assertEqual(self.spans(text), [("f", 1, 6)])

    def test_methods_tables_and_lambdas(self):
        text = ("struct S {\n  int a = 0;\n  int m() const {\n    return a;\n  }\n};\n"
                "const int kTable[] = {\n  1,\n};\n"
                "TEST(A, B) {\n  auto l = [] { return 1; };\n}\n")
        self.assertEqual(self.spans(text), [("m", 3, 5), ("TEST", 10, 12)])


class Arrows(unittest.TestCase):
    def offenders(self, name, include):
        return len(arrows.check(name, f"#include {include}\n"))

    def test_up_and_sideways_are_found_and_down_is_not(self):
        self.assertEqual(self.offenders("daemon/record/a.h", '"daemon/ledger/b.h"'), 1)
        self.assertEqual(self.offenders("daemon/ledger/a.h", '"daemon/judge/b.h"'), 1)
        self.assertEqual(self.offenders("daemon/ledger/a.h", '"daemon/record/b.h"'), 0)
        self.assertEqual(self.offenders("reports/a.h", '"daemon/desk/b.h"'), 1)
        self.assertEqual(self.offenders("daemon/base/a.h", '"clients/cli/b.h"'), 1)
        self.assertEqual(self.offenders("daemon/main.cpp", '"daemon/pages/b.h"'), 0)

    def test_a_commented_include_does_not_count(self):
        self.assertEqual(arrows.check("daemon/base/a.h", '// #include "daemon/desk/b.h"\n'), [])

    def test_headers_stay_in_their_room(self):
        self.assertEqual(self.offenders("daemon/desk/a.cpp", "<sqlite3.h>"), 1)
        self.assertEqual(self.offenders("daemon/ledger/sqlite/a.cpp", "<sqlite3.h>"), 0)
        self.assertEqual(self.offenders("daemon/intake/a.cpp", "<grpcpp/grpcpp.h>"), 1)
        self.assertEqual(self.offenders("daemon/intake/a_rpc.cpp", "<grpcpp/grpcpp.h>"), 0)
        self.assertEqual(self.offenders("daemon/record/a.cpp", "<openssl/sha.h>"), 1)
        self.assertEqual(self.offenders("clients/verify/a.cpp", '"daemon/ledger/l.h"'), 1)


class Words(unittest.TestCase):
    HEADER = "// What it is.\n#pragma once\n"

    def test_good_header_passes(self):
        self.assertEqual(words.check("daemon/base/a.h", self.HEADER), [])

    def test_each_banned_thing_is_found(self):
        bad = ["TO" "DO later", "the ya" "rd", "/wo" "rk/x", "  int a; ", "\tint a;"]
        for line in bad:
            self.assertEqual(len(words.check("daemon/base/a.cpp", f"// {line}\n")), 1, line)
        for line in ("throw 1;", "a << std::endl;", "atoi(s);", "assert(a);"):
            self.assertEqual(len(words.check("daemon/base/a.cpp", line + "\n")), 1, line)

    def test_words_in_literals_and_comments_are_no_calls(self):
        self.assertEqual(words.check("daemon/base/a.cpp", 's = "throw"; // throw\n'), [])

    def test_header_without_comment_or_guard_is_found(self):
        self.assertEqual(len(words.check("daemon/base/a.h", "#pragma once\n")), 1)
        self.assertEqual(len(words.check("daemon/base/a.h", "// What.\nint a;\n")), 1)


class Sources(unittest.TestCase):
    def test_the_tree_is_seen_without_build_results(self):
        names = [name for name, _ in sources.walk()]
        self.assertIn("tests/tidy/tidy_test.py", names)
        self.assertFalse([name for name in names if name.startswith("build/")])


if __name__ == "__main__":
    unittest.main()
