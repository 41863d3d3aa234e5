"""Lines and files that must be refused: exit 3, nothing on stdout, FILE:LINE: field: on stderr.

The rules are those of the observation line form: unknown field, unknown enum word, value outside
its sane range, missing or doubled content.
"""

import json

from corpus_cases import ORDER, proc
from trace_kit import Trace, digest, write_case, write_file

SOUND = ('{"time":"2026-03-02T10:00:00Z","job":"m","source":"operator","seq":1,"clock":"truck","opened":{"procedures":'
         '["order"],"vehicle":"unknown","truck":"truck-7","operator":"card-3f"}}')
NEXT = '{"time":"2026-03-02T10:01:00Z","job":"m","source":"operator","seq":2,"clock":"truck","note":{"text":"on site"}}'
COMMON = {"time": "2026-03-02T10:02:00Z", "job": "m", "source": "operator", "seq": 3, "clock": "truck"}


def line(kind=None, content=None, **common):
    row = dict(COMMON)
    row.update(common)
    row = {k: v for k, v in row.items() if v is not None}
    if kind:
        row[kind] = content
    return json.dumps(row, separators=(",", ":"))


PHOTO = {"view": "front", "when": "BEFORE", "sha256": digest("x"), "mediaType": "image/jpeg"}
TIEDOWN = {"on": True, "gear": "strap-1", "wheel": "LF", "path": "SAME_SIDE"}
FIX = {"latDeg": 44.5, "lonDeg": -30, "speedMps": 1, "hSdM": 2.5, "mode": 3}


def less(content, key):
    return {k: v for k, v in content.items() if k != key}


BAD = [
    # name, third line, field as stderr names it, what it is about
    ("field", line("note", {"text": "x"}, colour="red"), "colour", "unknown field"),
    ("subfield", line("photo", dict(PHOTO, flash=True)), "flash", "unknown field inside a kind"),
    ("kind", line("towed", {"on": True}), "towed", "unknown kind"),
    ("nokind", line(), "", "no kind at all"),
    ("twokinds", line("note", {"text": "x"}, alive={}), "", "two kinds in one line"),
    ("enum", line("vehicleMode", {"mode": "COASTING"}), "mode", "unknown enum word"),
    ("unset", line("vehicleMode", {"mode": "UNSET"}), "mode", "the zero word is never valid"),
    ("quality", line("note", {"text": "x"}, quality="FINE"), "quality", "unknown quality word"),
    ("missing", line("tiedown", less(TIEDOWN, "path")), "path", "required field missing"),
    ("missingfix", line("fix", less(FIX, "speedMps"), source="gps.tag", seq=1), "speedMps", "required field missing"),
    ("missingcard", line("opened", {"procedures": ["order"], "vehicle": "unknown", "truck": "truck-7"}), "operator",
     "required field missing"),
    ("range", line("sample", {"signal": "line.pull", "value": 2000000}, source="line", seq=1), "value", "2 MN is above 1 MN"),
    ("rangevolts", line("sample", {"signal": "clamp.volts", "value": 250}, source="clamp", seq=1), "value",
     "250 V is outside +-100 V"),
    ("rangespeed", line("fix", dict(FIX, speedMps=61), source="gps.tag", seq=1), "speedMps", "61 m/s is above 60 m/s"),
    ("nan", line("sample", {"signal": "line.pull", "value": "NaN"}, source="line", seq=1), "value", "not a number"),
    ("signal", line("sample", {"signal": "line.pul", "value": 100}, source="line", seq=1), "signal", "unknown signal"),
    ("type", line("clamp", {"lead": "POSITIVE", "on": "yes", "at": "VEHICLE", "point": "TERMINALS"}), "on", "wrong type"),
    ("time", line("note", {"text": "x"}, time="2026-03-02 10:02"), "time", "not RFC 3339"),
    ("notime", line("note", {"text": "x"}, time=None), "time", "no time"),
    ("month", line("note", {"text": "x"}, time="2026-13-02T10:02:00Z"), "time", "thirteenth month"),
    ("nosource", line("note", {"text": "x"}, source=None), "source", "no source"),
    ("noseq", line("note", {"text": "x"}, seq=None), "seq", "no seq"),
    ("seqzero", line("note", {"text": "x"}, seq=0), "seq", "seq runs from 1"),
    ("seqsign", line("note", {"text": "x"}, seq=-3), "seq", "negative seq"),
    ("seqbig", line("note", {"text": "x"}, seq=4294967296), "seq", "above 32 bits"),
    ("job", line("note", {"text": "x"}, job="j" * 65), "job", "token above 64 characters"),
    ("hash", line("photo", dict(PHOTO, sha256="abc123")), "sha256", "hash not 64 characters"),
    ("hashword", line("photo", dict(PHOTO, sha256="g" * 64)), "sha256", "hash not hex"),
    ("text", line("note", {"text": "x" * 10001}), "text", "free text above 10,000 characters"),
    ("json", '{"time":"2026-03-02T10:02:00Z","job":"m",', "", "cut off"),
    ("notjson", "taut at ten past", "", "not JSON"),
    ("array", "[1,2,3]", "", "not an object"),
    ("utf8", line("note", {"text": "x"}).encode().replace(b'"x"', b'"\xff\xfe"'), "", "not UTF-8"),
]


def make():
    for name, bad, field, about in BAD:
        case = "bad-" + name
        write_file(case, "procedure.textproto", ORDER)
        # FILE:LINE: field: what; do what
        where = r"trace\.jsonl:3: " + (rf"([A-Za-z0-9_.]+\.)?{field}: " if field else "")
        write_case(case, [SOUND, NEXT, bad], {
            "about": about, "source": "observation line form", "procedures": ["procedure.textproto"], "register": "",
            "exit": 3, "stderr": [where + ".+; .+"], "expected": []})

    jobs = []
    for job in ("one", "two"):
        t = Trace(job, "2026-03-02T10:00:00Z")
        t.op(0, "opened", procedures=["order"], vehicle="unknown", truck="truck-" + job, operator="card-3f")
        t.op(60, "closed", outcome="SIGNED")
        jobs += [text.replace('"operator","seq"', f'"operator{"" if job == "one" else ".b"}","seq"') for text in t.texts()]
    for case, more in (("jobs", {"exit": 3, "stderr": ["--job", "one", "two"]}), ("jobs-one", {"exit": 0, "args": ["--job", "one"]})):
        write_file(case, "procedure.textproto", ORDER)
        write_case(case, jobs, {
            "about": "Two jobs opened in one file" + (", one asked for." if case == "jobs-one" else ", none asked for."),
            "source": "offline judging: a file that opens several jobs wants --job",
            "procedures": ["procedure.textproto"], "register": "",
            "expected": [] if case == "jobs" else [{"rule": "order", "applies": "no", "verdict": ""}], **more})

    for case, text, words, about in (
            ("bad-fact", ORDER.replace("clamp.negative.off", "clamp.negativ.off"), [r"procedure\.textproto:\d+:\d+: ", r"clamp\.negative"],
             "unknown fact: the nearest name is given"),
            ("bad-rulefield", ORDER.replace("first:", "firsst:"), [r"procedure\.textproto:\d+:\d+: ", "firsst"],
             "unknown field in a procedure"),
            ("bad-unit", proc("u", ("speed", 'limit_in_phase { phase: "r" quantity: "vehicle.speed" under: "5 kg" sustained: "1 s" longest_gap: "3 s" }'),
                              phases='phase { id: "r" opens: "rolling.on" closes: "rolling.off" longest: "5 min" }\n'),
             [r"procedure\.textproto:\d+:\d+: ", "kg"], "wrong dimension in a limit")):
        write_file(case, "procedure.textproto", text)
        write_case(case, [SOUND, NEXT], {"about": about, "source": "procedure form", "procedures": ["procedure.textproto"],
                                         "register": "", "exit": 3, "stderr": words, "expected": []})
