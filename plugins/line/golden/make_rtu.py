"""Writes rtu.log and rtu.expect.jsonl: a Modbus RTU device (unit 1) asked for input registers 0 and 1
(function 4), and what must be recorded of its answers. Frames and CRC from the MODBUS over Serial
Line specification V1.02; the CRC is checked against that specification's example (02 07 -> 41 12).

  python3 make_rtu.py            beside this file
"""

import json
import os
import struct


def crc(frame):
    value = 0xFFFF
    for byte in frame:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ (0xA001 if value & 1 else 0)
    return struct.pack("<H", value)


def line(sign, frame):
    return f"{sign} {(frame + crc(frame)).hex(' ').upper()}\n"


assert crc(b"\x02\x07") == b"\x41\x12"
REQUEST = b"\x01\x04\x00\x00\x00\x02"
# Raw counts of half a newton; the last is the code for overload in the settings.
COUNTS = [0, 1, 17801, 2000, -40, 123456, 0x7FFFFFFF, 17802]


def main():
    here = os.path.dirname(os.path.abspath(__file__))
    with open(os.path.join(here, "rtu.log"), "w", encoding="utf-8") as log, \
            open(os.path.join(here, "rtu.expect.jsonl"), "w", encoding="utf-8") as expect:
        log.write("# Written by make_rtu.py.\n")
        for count in COUNTS:
            log.write(line(">", REQUEST))
            log.write(line("<", b"\x01\x04\x04" + struct.pack(">i", count)))
            out = {"source": "line", "signal": "line.pull", "value": count * 0.5}
            if count == 0x7FFFFFFF:
                out["quality"] = "OVERLOAD"
            expect.write(json.dumps(out) + "\n")


if __name__ == "__main__":
    main()
