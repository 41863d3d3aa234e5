"""P4, P5 and P13: what a verdict rests on, tried by putting other lines where lines are missing.

gaps        a line is lost; every line that could have stood there instead is tried: a verdict that is
            met stays away from deviated, and the other way round, whichever it was (P4)
clocks      every pair of clock errors on the ellipse that two stated uncertainties span: decided exactly
            where all of them agree (P4 and P5)
silent      lines lost of a source no rule listens to: everything decided as before (P5)
certificate the cited lines alone, marks for all others: the same verdict (P13), for the forms whose
            four citations can carry it
"""

import datetime
import json
import math

FACTS = {"scene": [{"set": True}, {"set": False}], "screen": [{"awake": True}, {"awake": False}],
         "secured": [{"checked": True}], "arrived": [{}], "driveReady": [{"confirmed": True}],
         "vehicleMode": [{"mode": "ROLLING"}, {"mode": "PARKED"}],
         "clamp": [{"lead": lead, "on": on, "at": "VEHICLE", "point": "TERMINALS"}
                   for lead in ("POSITIVE", "NEGATIVE") for on in (True, False)],
         "tiedown": [{"on": True, "gear": f"s2-{wheel}", "wheel": wheel, "path": "ACROSS"} for wheel in ("LF", "RF", "LR", "RR")]}
NOTE = {"text": "nothing"}


def stamp(text):
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00"))


def text_of(when):
    return when.strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def packed(row):
    return json.dumps(row, separators=(",", ":"))


def kind_of(row):
    return next(k for k in row if k in FACTS or k in ("sample", "fix", "opened", "closed", "abandoned", "note", "photo", "film",
                                                      "truckMotion", "rigging", "clockOffset", "sensor", "gap", "alive"))


def fillings(rows, lost):
    """Lines that could have stood where rows[lost] did: each word at three times, or a reading between its neighbours."""
    row = rows[lost]
    own = [r for r in rows if r["source"] == row["source"]]
    place = own.index(row)
    before, after = stamp(own[place - 1]["time"]), stamp(own[place + 1]["time"])
    if kind_of(row) in ("sample", "fix"):  # a lost reading is bridged by the one before it, which holds
        if kind_of(own[place - 1]) == kind_of(row):
            yield {**row, kind_of(row): own[place - 1][kind_of(row)]}
        return
    base = {k: v for k, v in row.items() if k != kind_of(row)}
    kinds = {kind_of(r) for r in own} & set(FACTS)
    whens = [before + (after - before) * share for share in (0.04, 0.5, 0.96)]
    yield {**base, "note": NOTE}
    for kind in sorted(kinds):
        for body in FACTS[kind]:
            for when in whens:
                yield {**base, "time": text_of(when), kind: body}


def gaps(judge, lines, rng):
    """(tried, all agreed, of those decided, [words])."""
    rows = [json.loads(line) for line in lines]
    own = {}
    for i, row in enumerate(rows):
        own.setdefault(row["source"], []).append(i)
    inner = [i for some in own.values() for i in some[1:-1] if kind_of(rows[i]) not in ("opened", "closed", "abandoned", "clockOffset")]
    if not inner:
        return 0, 0, 0, []
    lost = rng.choice(inner)
    lines = list(lines)
    with_gap = judge(lines[:lost] + lines[lost + 1:])
    outcomes = [judge(lines[:lost] + [packed(row)] + lines[lost + 1:]) for row in fillings(rows, lost)]
    if kind_of(rows[lost]) not in ("sample", "fix"):  # a reading that jumps is not what bridges its loss
        outcomes.append(judge(lines))
    if not outcomes:
        return 0, 0, 0, []
    agreed = decided = 0
    wrong = []
    for i, found in enumerate(with_gap):
        seen = {outcome[i]["verdict"] for outcome in outcomes}
        if found["verdict"] in ("met", "deviated") and ({"met", "deviated"} - {found["verdict"]}) & seen:
            wrong.append(f"filling line {lost + 1}: {found['rule']} {found['verdict']} becomes {sorted(seen)}")
        if found["applies"] == "no" and seen & {"met", "deviated"}:
            wrong.append(f"filling line {lost + 1}: {found['rule']} applies no becomes {sorted(seen)}")
        if len(seen) == 1 and "unproven" not in seen:
            agreed += 1
            decided += found["verdict"] == next(iter(seen))
    return len(outcomes), agreed, decided, wrong


def clocks(judge, lines):
    """Two sources with clocks of their own: decided as all errors within their uncertainty agree."""
    rows = [json.loads(line) for line in lines]
    found = judge(lines)
    wide = {row["source"]: row["timeUncertaintyMs"] for row in rows if row["source"].startswith("probe.")}
    shared = {row["source"] for row in rows if row["clock"] == "truck"}
    if len(wide) != 2:
        return []
    sources = sorted(wide)
    if all(s in shared for s in sources):
        return []  # one clock: compared exactly
    verdicts = set()
    for i in range(65):
        angle = 2 * math.pi * i / 64
        share = {sources[0]: math.cos(angle), sources[1]: math.sin(angle)} if i < 64 else {s: 0 for s in sources}
        moved = []
        for row in rows:
            row = dict(row)
            if row["source"] in wide:
                row["time"] = text_of(stamp(row["time"]) + datetime.timedelta(milliseconds=wide[row["source"]] * share[row["source"]]))
                row["clock"], row["timeUncertaintyMs"] = "truck", 0
            moved.append(packed(row))
        verdicts.add(judge(moved)[0]["verdict"])
    told = found[0]["verdict"]
    margin = found[0]["marginBest"]
    edge = margin is not None and abs(abs(margin) - math.hypot(*wide.values()) / 1000) < 0.02  # between two angles tried
    if edge:
        return []
    if told in ("met", "deviated") and verdicts != {told}:
        return [f"clocks: {told}, but errors within the stated ones give {sorted(verdicts)}"]
    if told == "unproven" and len(verdicts) == 1:
        return [f"clocks: unproven, but all errors within the stated ones give {sorted(verdicts)}"]
    return []


def silent(judge, lines, plain):
    """Lines 1 and 4 of a source no rule names: its gap hides nothing."""
    first = json.loads(lines[0])
    more = [packed({"time": text_of(stamp(first["time"]) + datetime.timedelta(seconds=s)), "job": first["job"],
                    "source": "probe.stranger", "seq": s, "clock": "truck", "note": NOTE}) for s in (1, 4)]
    found = judge(list(lines) + more)
    return [f"silent stranger: {a['rule']} {a['verdict']} becomes {b['verdict']}" for a, b in zip(plain, found)
            if (a["applies"], a["verdict"], a["reason"], a["settled"]) != (b["applies"], b["verdict"], b["reason"], b["settled"])]


CARRIED = {"comes_first": ("met", "deviated"), "follows_within": ("met", "deviated"), "wait_between": ("met", "deviated"),
           "stays_until": ("met", "deviated"), "never_together": ("deviated",), "limit_in_phase": ("deviated",),
           "enough_strength": ("deviated",), "evidence_present": ("met",)}


def began(rows, ended):
    """The line that began what a line ends: the same words, but for one turned from true to false."""
    kind = kind_of(ended)
    body = ended[kind]
    if kind not in FACTS or not isinstance(body, dict):
        return None
    for key, value in body.items():
        if value is False:
            wanted = {**body, key: True}
            earlier = [r for r in rows if r.get(kind) == wanted and r["time"] < ended["time"]]
            return earlier[-1] if earlier else None
    return None


def certificate(judge, lines, forms, plain):
    """[(compared), [words]]: each decided finding from its cited lines alone, all others made marks."""
    rows = [json.loads(line) for line in lines]
    wrong, compared = [], 0
    for i, found in enumerate(plain):
        form = forms.get(found["rule"])
        if found["applies"] != "yes" or found["verdict"] not in CARRIED.get(form, ()):
            continue
        if form == "evidence_present" and len(found["evidence"]) == 4:
            continue  # more items than four citations can name
        cited = {(e["source"], e["seq"]) for e in found["evidence"]}
        kept = {key for key in cited}
        for row in rows:
            if (row["source"], row["seq"]) in cited:
                earlier = began(rows, row)
                if earlier is not None:
                    kept.add((earlier["source"], earlier["seq"]))
        few = []
        for row in rows:
            kind = kind_of(row)
            if (row["source"], row["seq"]) in kept or kind in ("opened", "closed", "abandoned"):
                few.append(packed(row))
            else:
                few.append(packed({**{k: v for k, v in row.items() if k not in (kind, "quality")}, "alive": {}}))
        compared += 1
        again = judge(few)[i]
        if again["verdict"] != found["verdict"]:
            wrong.append(f"certificate: {form} {found['rule']} {found['verdict']} by {sorted(cited)}, "
                         f"from these alone {again['applies']} {again['verdict']} {again['reason']}")
    return compared, wrong
