"""Words and calls that may not stand in the tree, white space, and how a header begins."""

import re

from sources import CODE_ENDINGS, blanked

OURS = ("daemon/", "plugins/", "clients/", "reports/")

# Anywhere in text of ours. Split so that this file does not find itself.
WORDS = [
    (r"\b(TO" r"DO|FIX" r"ME|XX" r"X|HA" r"CK)\b", "finish it or say it in the issue"),
    (r"(?i)\bya" r"rds?\b", "say base (the owner's office) or lot (where cars stand)"),
    (r"(?<![\w.}])/(wo" r"rk|ro" r"ot)/", "a path of one machine"),
    (r"(?i)seed doc" r"ument", "say it in the project's own words"),
]
# In C++ of ours, comments and literals apart.
CALLS = [
    (r"\bstd::endl\b", "write '\\n'; flush by name where it matters"),
    (r"\busing namespace std\s*;", "name what you use"),
    (r"\b(strcpy|strcat|sprintf|vsprintf|gets|strtok)\s*\(", "unbounded or shared buffer"),
    (r"\b(s?rand|std::rand)\s*\(", "not seeded by us; pass a generator"),
    (r"\b(std::)?system\s*\(", "a shell between us and the program; spawn it"),
    (r"\bassert\s*\(", "gone in release; return an Error or check always"),
]
# In the product, not in its tests.
PRODUCT_CALLS = [
    (r"\b(atoi|atol|atof)\s*\(", "cannot tell an error; use std::from_chars"),
    (r"\bthrow\b", "nothing of ours throws; return a Result"),
]


def check(name, text):
    """Offenders of one file, as sentences."""
    ending = "." + name.rsplit(".", 1)[-1]
    found = []
    for pattern, why in WORDS:
        found += _hits(name, text, pattern, why)
    if ending in (".cpp", ".h"):
        code = blanked(text)
        for pattern, why in CALLS + (PRODUCT_CALLS if name.startswith(OURS) else []):
            found += _hits(name, code, pattern, why)
        if ending == ".h":
            found += _header(name, text)
    if ending in CODE_ENDINGS | {".md"}:
        found += _hits(name, text, r"[ \t]+$", "white space at the end of a line")
        found += _hits(name, text, r"\t", "a tab")
        found += _hits(name, text, r"\r", "a carriage return")
        if text and not text.endswith("\n"):
            found.append(f"{name}: no line end at the end of the file")
    return found


def _hits(name, text, pattern, why):
    return [f"{name}:{text.count(chr(10), 0, m.start()) + 1}: '{m.group(0).strip()}': {why}"
            for m in re.finditer(pattern, text, re.MULTILINE)]


def _header(name, text):
    lines = text.split("\n")
    found = []
    if not lines[0].startswith("//"):
        found.append(f"{name}:1: a header begins with a comment: what it is for, which threads, "
                     "which units, who owns, what fails")
    code = [line for line in lines if line.strip() and not line.startswith("//")]
    if not code or code[0] != "#pragma once":
        found.append(f"{name}: '#pragma once' is the first line after that comment")
    return found
