#!/usr/bin/python3
"""The fleet files give the figures their README works out. Exit 1 with a line for each that does not.

Axle loads by the lever rule; credit as 49 CFR 393.106(d); defaults 49 CFR 393.108 as printed; drum
layers F_n = F_1 (D + d) / (D + (2n - 1) d) for constant torque, a formula from memory.
"""

import math
import os
import sys

from naive_text import one, parse_text, quantity

FLEET = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "clients", "sim", "fleet")
WRONG = []


def holds(what, got, want, near):
    if abs(float(got) - want) > near:
        WRONG.append(f"{what}: the files give {float(got):.3f}, expected {want} +-{near}")


def read():
    register = {}
    for name in sorted(os.listdir(FLEET)):
        if name.endswith(".textproto"):
            with open(os.path.join(FLEET, name), encoding="utf-8") as file:
                for key, values in parse_text(file.read()).items():
                    register.setdefault(key, []).extend(values)
    return register


def main():
    register = read()
    by_id = {one(x, "id"): x for kind in ("vehicle", "truck", "gear") for x in register[kind]}

    def value(owner, field, unit):
        return quantity(one(by_id[owner], field))[0] / unit

    hauberk, base = value("hauberk", "mass", 1000), value("OW-04", "wheelbase", 1000)
    rear = float(hauberk * (base - 108 / 100) / base)  # 1.08 m ahead of the rear axle
    front = float(hauberk) - rear
    holds("front axle", float(value("OW-04", "front_scaled", 1000)) + front, 4054, 0.5)
    holds("rear axle", float(value("OW-04", "rear_scaled", 1000)) + rear, 6976, 0.5)
    total = value("OW-04", "front_scaled", 1000) + value("OW-04", "rear_scaled", 1000) + hauberk
    holds("total", total, 11030, 0.5)
    holds("front margin", float(value("OW-04", "front_axle_rating", 1000) - value("OW-04", "front_scaled", 1000)) - front, 482, 0.5)
    holds("rear margin", float(value("OW-04", "rear_axle_rating", 1000) - value("OW-04", "rear_scaled", 1000)) - rear, 962, 0.5)
    holds("gross margin", value("OW-04", "gvwr", 1000) - total, 763, 0.5)
    # Where `fairlead plan` stands it: half of the deck it asks for beyond its length stays free in front.
    free = (value("hauberk", "deck_min", 1000) - value("hauberk", "length", 1000)) / 2
    back = value("hauberk", "front_overhang", 1000) + (1 - value("hauberk", "front_share", 1)) * value("hauberk", "wheelbase", 1000)
    holds("centre of mass ahead of OW-04's rear axle", value("OW-04", "deck_ahead", 1000) - free - back, 1.08, 0.0005)
    holds("OW-09 deck", value("OW-09", "deck_length", 1000) - value("hauberk", "deck_min", 1000), -0.61, 0.001)
    holds("OW-09 payload", value("OW-09", "payload", 1000) - hauberk, -685, 0.5)

    winch = one(by_id["OW-04"], "winch")
    drum, rope, width = (float(quantity(one(winch, f))[0]) for f in ("drum_diameter", "rope_diameter", "drum_width"))
    length, first = 0.0, float(quantity(one(winch["layer"][0], "pull"))[0])
    for n, layer in enumerate(winch["layer"], 1):
        length += math.pi * (drum + (2 * n - 1) * rope) * (width / rope) / 1000
        holds(f"layer {n} pull", float(quantity(one(layer, "pull"))[0]) / 1000,
              round(first * (drum + rope) / (drum + (2 * n - 1) * rope) / 1000, 1), 0.001)
        holds(f"layer {n} length", float(quantity(one(layer, "length"))[0]) / 1000, round(length, 1), 0.051)
    holds("strap credit", 4 * value("OW-04-strap-LF", "wll", 1000) / 2, 3024, 0.001)
    for truck in (f"OW-{n:02d}" for n in range(1, 13)):
        channels = [one(s, "channel") for s in register["sensor"] if one(s, "truck") == truck]
        if truck not in by_id or len(channels) != 8 or len(set(channels)) != 8:
            WRONG.append(f"{truck}: wants a truck and one sensor for each of eight channels, has {channels}")
    ids = [one(x, "id") for kind in register for x in register[kind]]
    if len(ids) != len(set(ids)):
        WRONG.append("ids: some id stands twice")
    print("\n".join(WRONG) if WRONG else f"fleet figures hold ({len(ids)} entries)")
    return 1 if WRONG else 0


if __name__ == "__main__":
    sys.exit(main())
