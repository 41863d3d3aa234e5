#!/usr/bin/python3
"""Writes every case folder of this directory anew. Same bytes on every run.

    /usr/bin/python3 tests/traces/make_cases.py           write
    /usr/bin/python3 tests/traces/make_cases.py --check   compare with what stands there; 1 if it differs
"""

import sys

import boost_cases
import corpus_cases
import coverage_cases
import decided_cases
import form_cases
import instant_cases
import kernel_cases
import lines_cases
import malformed_cases
import metered_cases
import mutant_cases
import rigging_cases
import sound_cases
import threshold_cases
import tag_cases
import timed_cases
import trace_kit
import trade_cases
import winch_cases

if __name__ == "__main__":
    trace_kit.CHECK_ONLY = sys.argv[1:] == ["--check"]
    for cases in (boost_cases, winch_cases, corpus_cases, timed_cases, decided_cases, malformed_cases, mutant_cases, trade_cases,
                  metered_cases, threshold_cases, kernel_cases, coverage_cases, tag_cases, sound_cases,
                  rigging_cases, lines_cases, form_cases, instant_cases):
        cases.make()
    for path in trace_kit.DIFFERING:
        print(f"{path}: differs from what the generator writes; run tests/traces/make_cases.py and look at the change")
    sys.exit(1 if trace_kit.DIFFERING else 0)
