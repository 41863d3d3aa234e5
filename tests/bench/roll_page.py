#!/usr/bin/python3
"""Puts tables of fairlead-bench-roll into a page, in the place of those with the same first column heads.

    /usr/bin/python3 tests/bench/roll_page.py PAGE TABLE...

A table is found by its first three heads; each must stand in the page exactly once. What is not a table stays.
"""

import sys


def heads(line):
    return [cell.strip() for cell in line.strip().strip("|").split("|")][:3]


def put(page, table):
    """`page` with `table` (lists of lines) in the place of the one with its first heads."""
    places = [i for i, line in enumerate(page) if line.startswith("|") and heads(line) == heads(table[0])]
    if len(places) != 1:
        sys.exit(f"the page has {len(places)} tables that begin {' | '.join(heads(table[0]))}, and needs one")
    end = places[0]
    while end < len(page) and page[end].startswith("|"):
        end += 1
    return page[:places[0]] + table + page[end:]


def read(path):
    with open(path, encoding="utf-8") as file:
        return file.read().splitlines()


def main(arguments):
    page = read(arguments[0])
    for path in arguments[1:]:
        table = read(path)
        if len(table) < 3 or not all(line.startswith("|") for line in table):
            sys.exit(f"{path} is no table")
        page = put(page, table)
    with open(arguments[0], "w", encoding="utf-8") as file:
        file.write("\n".join(page) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
