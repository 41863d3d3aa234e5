"""Files of the naive evaluator: protobuf text, quantities, observation lines. Standard library only."""

import datetime
import json
import math
import re
from fractions import Fraction

TOKEN = re.compile(r'\s+|#[^\n]*|("(?:[^"\\]|\\.)*")|([A-Za-z_][A-Za-z0-9_.]*)|(-?[0-9][0-9A-Za-z_.+-]*)|([{}:;,])')


def parse_text(text):
    """Protobuf text as {field: [value, ...]}; a message is a dict of its own."""
    tokens = [m.group(0) for m in TOKEN.finditer(text) if m.group(0).strip() and not m.group(0).startswith("#")]
    place = 0

    def message(stop):
        nonlocal place
        fields = {}
        while place < len(tokens) and tokens[place] != stop:
            name = tokens[place]
            place += 1
            if tokens[place] == ":":
                place += 1
            if tokens[place] == "{":
                place += 1
                value = message("}")
                place += 1
            else:
                value = tokens[place]
                place += 1
                if value[0] == '"':
                    value = value[1:-1].replace('\\"', '"')
            fields.setdefault(name, []).append(value)
        return fields

    return message(None)


def one(fields, name, default=None):
    return fields.get(name, [default])[0]


# Stored units in one of the named: mm, mm/s, N, g, mV, us, mdeg, share.
# Factors: SI; mile, foot, inch, pound as NIST SP 811.
UNITS = {
    "m": ("length", Fraction(1000)), "mm": ("length", Fraction(1)), "cm": ("length", Fraction(10)),
    "km": ("length", Fraction(10**6)), "mi": ("length", Fraction(1609344)), "ft": ("length", Fraction(3048, 10)), "in": ("length", Fraction(254, 10)),
    "km/h": ("speed", Fraction(2500, 9)), "m/s": ("speed", Fraction(1000)), "mm/s": ("speed", Fraction(1)),
    "m/min": ("speed", Fraction(1000, 60)), "mph": ("speed", Fraction(1609344, 3600)), "ft/min": ("speed", Fraction(3048, 600)),
    "N": ("force", Fraction(1)), "daN": ("force", Fraction(10)), "kN": ("force", Fraction(1000)),
    "lbf": ("force", Fraction(44482216152605, 10**13)),
    "kg": ("mass", Fraction(1000)), "g": ("mass", Fraction(1)), "t": ("mass", Fraction(10**6)), "lb": ("mass", Fraction(45359237, 100000)),
    "V": ("voltage", Fraction(1000)), "mV": ("voltage", Fraction(1)), "s": ("time", Fraction(10**6)),
    "ms": ("time", Fraction(1000)), "min": ("time", Fraction(60 * 10**6)), "h": ("time", Fraction(3600 * 10**6)),
    "m/s2": ("acceleration", Fraction(1000)), "mm/s2": ("acceleration", Fraction(1)),
    "deg": ("angle", Fraction(1000)), "degC": ("temperature", Fraction(100)), "%": ("share", Fraction(1, 100)), "": ("share", Fraction(1)),
}


def quantity(text):
    """(stored value, unit word) of "5 km/h"."""
    match = re.fullmatch(r"\s*(-?[0-9.]+)\s*(\S*)\s*", text)
    return Fraction(match.group(1)) * UNITS[match.group(2)][1], match.group(2)


def is_quantity(text):
    return re.fullmatch(r"\s*-?[0-9.]+\s*\S*\s*", text) is not None


def spread(text):
    """s.d. text "1 % + 20 N" as a function of the stored value."""
    parts = [part.strip() for part in text.split("+")]
    share = sum(quantity(p)[0] for p in parts if p.endswith("%"))
    fixed = sum(quantity(p)[0] for p in parts if not p.endswith("%"))
    return lambda value: share * abs(value) + fixed


def micros(text):
    """RFC 3339 to microseconds since 1970; second 60 is taken as 59.999999."""
    leap = re.match(r"(.*:)60(?:\.\d+)?(.*)$", text)
    if leap:
        text = leap.group(1) + "59.999999" + leap.group(2)
    match = re.match(r"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d)(?:\.(\d+))?(Z|[+-]\d\d:\d\d)$", text)
    stamp = datetime.datetime.fromisoformat(match.group(1) + ("+00:00" if match.group(3) == "Z" else match.group(3)))
    whole = stamp - datetime.datetime(1970, 1, 1, tzinfo=datetime.timezone.utc)
    return (whole.days * 86400 + whole.seconds) * 10**6 + int(((match.group(2) or "") + "000000")[:6])


COMMON = {"time", "job", "source", "seq", "timeUncertaintyMs", "clock", "received", "quality"}
# Stored units in one SI unit of the signal.
RESOLUTION = {"line.pull": 1.0, "line.out": 0.001, "clamp.volts": 0.001, "clamp.pos.contact": 1.0,
              "clamp.neg.contact": 1.0, "deck.tilt": 0.001, "fix.speed": 0.001, "clamp.amps": 0.001,
              "deck.accel_x": 0.001, "deck.accel_y": 0.001, "deck.accel_z": 0.001}


def stored(signal, value):
    return math.floor(value / RESOLUTION[signal] + 0.5)


class Line:
    def __init__(self, row):
        self.row = row
        self.source, self.seq = row["source"], row["seq"]
        self.kind = next(k for k in row if k not in COMMON)
        self.body = row[self.kind]
        self.shown = micros(row["time"])
        self.time = self.shown
        self.clock = row.get("clock")
        self.wide = row.get("timeUncertaintyMs")
        self.u = Fraction(self.wide or 0) * 1000
        self.early = 0  # how much earlier it may have been: a burst of taps
        self.good = row.get("quality", "GOOD") == "GOOD"

    def ref(self):
        return self.source, self.seq


def read_lines(path, job=None):
    rows, seen = [], {}
    broken = {}  # source -> first seq said twice with other content
    for text in open(path, encoding="utf-8"):
        if not text.strip():
            continue
        row = json.loads(text)
        key = row["source"], row["seq"]
        if key in seen:
            if seen[key] != row:
                broken[key[0]] = min(broken.get(key[0], key[1]), key[1])
            continue
        seen[key] = row
        rows.append(Line(row))
    if job:
        rows = [line for line in rows if line.row["job"] == job]
    return rows, broken
