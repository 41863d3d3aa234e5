"""What a finding says, as one digest: rule, applies, verdict, reason, basis, margins, unit, instant, evidence, settled.

Words and hashes of files are not in it. golden.txt keeps digests of the written cases, random_pins.txt the first
digits of those of random ones.
"""

import hashlib
import json
import os

PINS = os.path.join(os.path.dirname(os.path.abspath(__file__)), "random_pins.txt")
SAID = ("rule", "applies", "verdict", "reason", "basis", "marginLo", "marginBest", "marginHi", "unit", "at", "evidence", "settled")


def said(findings):
    return [[finding[key] for key in SAID] for finding in findings]


def digest(findings):
    return hashlib.sha256(json.dumps(said(findings), sort_keys=True).encode()).hexdigest()


def pin(findings):
    return digest(findings)[:6]


def pins():
    """{seed: pin} of random_pins.txt."""
    with open(PINS, encoding="utf-8") as file:
        rows = [line.split() for line in file]
    return {int(row[0]) + i: word for row in rows for i, word in enumerate(row[1:])}
