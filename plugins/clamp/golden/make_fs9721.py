"""Writes fs9721.log and fs9721.expect.jsonl: what a meter with an FS9721_LP3 display chip sends
(2400/8n1, 14 bytes a reading: high nibble the byte's number, low nibble four segments of the
display, as in the chip's published segment table), and what must be recorded of it. The
expectation is written from what the display shows, not from any decoder.

  python3 make_fs9721.py            beside this file
"""

import json
import os

# Segments of a digit, 7 bits; the eighth is the sign (first digit) or the point before the digit.
SEGMENTS = {"0": 0x7D, "1": 0x05, "2": 0x5B, "3": 0x1F, "4": 0x27, "5": 0x3E, "6": 0x7E,
            "7": 0x15, "8": 0x7F, "9": 0x3F, " ": 0x00, "L": 0x68, "?": 0x42}
AC, DC, AUTO, RS232 = 8, 4, 2, 1
# Flags by (byte number, bit).
FLAGS = {"micro": (9, 8), "kilo": (9, 2), "diode": (9, 1), "milli": (10, 8), "ohm": (11, 4),
         "rel": (11, 2), "hold": (11, 1), "A": (12, 8), "V": (12, 4), "Hz": (12, 2), "bat": (12, 1)}


def packet(display, *flags, current=DC):
    """One reading: display like "-12.64" or " 0L ", four digits in all."""
    negative = display.startswith("-")
    digits = display.lstrip("-")
    point = digits.find(".")
    digits = digits.replace(".", "")
    assert len(digits) == 4, display
    low = [0] * 14
    low[0] = current | AUTO | RS232
    for i, digit in enumerate(digits):
        byte = SEGMENTS[digit]
        if (i == 0 and negative) or (i > 0 and point == i):
            byte |= 0x80
        low[1 + 2 * i] = byte >> 4
        low[2 + 2 * i] = byte & 15
    for flag in flags:
        number, bit = FLAGS[flag]
        low[number] |= bit
    return " ".join(f"{(i + 1) << 4 | nibble:02X}" for i, nibble in enumerate(low))


VOLTS, AMPS = "clamp.volts", "clamp.amps"


def sample(signal, value, quality=None):
    line = {"source": "clamp", "signal": signal, "value": value}
    if quality:
        line["quality"] = quality
    return line


def gap(signal, cause):
    return {"source": "clamp", "signal": signal, "gap": cause}


def both(cause):
    return [gap(VOLTS, cause), gap(AMPS, cause)]


def state(words):
    return {"source": "clamp", "signal": VOLTS, "state": words}


SHOWN = [
    ("a battery at rest", packet("12.64", "V"), [sample(VOLTS, 12.64)]),
    ("a little more", packet("12.71", "V"), [sample(VOLTS, 12.71)]),
    ("leads crossed", packet("-12.70", "V"), [sample(VOLTS, -12.70)]),
    ("millivolts", packet("099.9", "V", "milli"), [sample(VOLTS, 0.0999)]),
    ("the meter's battery is low", packet("12.60", "V", "bat"),
     [state("the meter's battery is low: readings are suspect"), sample(VOLTS, 12.60, "SUSPECT")]),
    ("and well again", packet("12.60", "V"),
     [state("the meter's battery is well again"), sample(VOLTS, 12.60)]),
    ("over the range", packet(" 0L ", "V"), [sample(VOLTS, 100.0, "OVERLOAD")]),
    ("switched to AC", packet("013.8", "V", current=AC), both("the meter shows AC volts")),
    ("switched to ohms", packet("047.0", "ohm", "kilo"), both("the meter shows resistance")),
    ("diode test", packet("0.512", "V", "diode"), both("the meter is on diode test")),
    ("switched to amps", packet("155.0", "A"),
     [gap(VOLTS, "the meter shows amps"), sample(AMPS, 155.0)]),
    ("the other way", packet("-310.5", "A"), [sample(AMPS, -310.5)]),
    ("over the range", packet(" 0L ", "A"), [sample(AMPS, 3000.0, "OVERLOAD")]),
    ("HOLD pressed", packet("12.60", "V", "hold"),
     both("the meter's display is held, or shows a minimum, maximum, average or difference")),
    ("a digit damaged", packet("12?0", "V"), both("a digit of the meter could not be read")),
    ("volts again", packet("12.64", "V"),
     [sample(VOLTS, 12.64), gap(AMPS, "the meter shows volts")]),
]


def main():
    here = os.path.dirname(os.path.abspath(__file__))
    with open(os.path.join(here, "fs9721.log"), "w", encoding="utf-8") as out:
        out.write("# Written by make_fs9721.py from the segment table of the FS9721_LP3 chip.\n")
        out.write("# While the meter is looked for:\n")
        for _ in range(50):
            out.write(f"< {packet('1.000', 'V')}\n= 60\n")
        for words, sent, _ in SHOWN:
            out.write(f"# {words}\n< {sent}\n= 60\n")
    with open(os.path.join(here, "fs9721.expect.jsonl"), "w", encoding="utf-8") as out:
        out.write("# align: the meter is looked for first\n")
        for _, _, lines in SHOWN:
            for line in sorted(lines, key=lambda one: "value" in one and one["signal"] == VOLTS
                               and any("gap" in other for other in lines)):
                out.write(json.dumps(line) + "\n")


if __name__ == "__main__":
    main()
