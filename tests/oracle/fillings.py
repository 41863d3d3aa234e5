"""P4, P5 and P13: what a verdict rests on, tried by putting other lines where lines are missing.

gaps        a line is lost; every line that could have stood there instead is tried: a verdict that is
            met stays away from deviated, and the other way round, whichever it was (P4)
complete    small jobs of a few words, one lost: every word at every second that could have stood there is
            tried; where all agree the verdict is decided, and where they do not it is not (P4 and P5)
clocks      every pair of clock errors on the ellipse that two stated uncertainties span: decided exactly
            where all of them agree (P4 and P5)
clock errors  the same with several clocks and every form over time: decided only where all of them agree (P4), and how often it is
            decided where all agree (P5)
silent      lines lost of a source no rule listens to: everything decided as before (P5)
certificate the cited lines alone, marks for all others: the same verdict (P13), for the forms whose
            four citations can carry it
"""

import datetime
import itertools
import json
import math

from naive_text import COMMON

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
    kinds = [k for k in row if k not in COMMON]
    assert len(kinds) == 1, row
    return kinds[0]


def fillings(rows, lost):
    """Lines that could have stood where rows[lost] did: each word at five times, or a reading between its neighbours."""
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
    # Also so near to the line before, or the one after, that one of the two makes a bounce of the other.
    near = datetime.timedelta(milliseconds=300)
    whens = {before + (after - before) * share for share in (0.04, 0.5, 0.96)} | {before + near, after - near}
    whens = sorted(when for when in whens if before < when < after)
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


WORDS = [("scene", {"set": True}), ("scene", {"set": False}), ("screen", {"awake": True}), ("screen", {"awake": False}),
         ("secured", {"checked": True}), ("arrived", {}), ("note", NOTE)]


def small_job(rng, place):
    """(rows, index of the line that is lost, rule) of a job of six words 20 s apart, one of them lost."""
    base = stamp("2026-04-07T06:00:00Z")
    rows = []

    def add(second, kind, body):
        rows.append({"time": text_of(base + datetime.timedelta(seconds=second)), "job": "small", "source": "operator",
                     "seq": len(rows) + 1, "clock": "truck", kind: body})

    add(0, "opened", {"procedures": ["p"], "vehicle": "car", "truck": "t", "operator": "card-1"})
    for i in range(6):
        kind, body = rng.choice(WORDS)
        add(10 + 20 * i, kind, body)
    add(170, "closed", {"outcome": "SIGNED"})
    fact, event = rng.choice(["scene.set", "screen.awake"]), rng.choice(["secured.checked", "arrived"])
    other = {"scene.set": "screen.awake", "screen.awake": "scene.set"}[fact]
    seconds = rng.choice([5, 15, 25])
    rule = rng.choice([
        f'comes_first {{ first: "{fact}.on" then: "{event}" }}', f'comes_first {{ first: "{event}" then: "{fact}.on" }}',
        f'follows_within {{ after: "{event}" then: "{fact}.on" within: "{seconds} s" }}',
        f'follows_within {{ after: "{fact}.on" then: "{event}" within: "{seconds} s" }}',
        f'stays_until {{ state: "{fact}" until: "{event}" }}', f'stays_until {{ state: "{fact}" until: "{other}.on" bridge: "12 s" }}',
        f'wait_between {{ from: "{fact}.on" to: "{event}" at_least: "{seconds} s" }}',
        f'wait_between {{ from: "{event}" to: "{fact}.on" at_most: "{seconds} s" }}',
        f'never_together {{ state: "scene.set" with: "screen.awake" tolerate: "{seconds} s" }}'])
    return rows, 1 + place, rule


PLAIN = 'id: "p" version: "1.0" title: "p"\nrule { id: "r" title: "r" origin { text: "random" standing: PRACTICE } %s }\n'


def complete(judge, rng):
    """(agreed, of those undecided, [words]) of one small job in which one line became two that are lost.

    Two, because a gap hides any number of words for the judge: how many are missing is not weighed.
    """
    rows, lost, rule = small_job(rng, rng.randint(1, 4))
    for row in rows[lost + 1:]:
        row["seq"] += 1
    judge.under(PLAIN % rule, "")
    lines = [packed(row) for row in rows]
    told = judge(lines[:lost] + lines[lost + 1:])[0]
    before = stamp(rows[lost - 1]["time"])
    seconds = (0.3, 1, 6, 7, 12, 13, 19, 19.7)  # within 20 s; a word may make a bounce of the one before it or after it
    base = {k: v for k, v in rows[lost].items() if k not in dict(WORDS)}

    def word(kind, body, second, later):
        return packed({**base, "seq": base["seq"] + later, "time": text_of(before + datetime.timedelta(seconds=second)), kind: body})

    seen = {}
    for a, b in itertools.product(WORDS, WORDS):
        for first, then in itertools.combinations(seconds, 2):
            found = judge(lines[:lost] + [word(*a, first, 0), word(*b, then, 1)] + lines[lost + 1:])[0]
            seen.setdefault(found["verdict"] or "none", (a, first, b, then))
            if len(seen) > 1 and told["verdict"] == "unproven":
                return 0, None, []  # they differ, and it is undecided, as it should
    wrong = []
    if told["verdict"] in ("met", "deviated") and set(seen) - {told["verdict"], "unproven"}:
        wrong.append(f"complete: {rule}: {told['verdict']}, but {seen}")
    if len(seen) == 1 and "unproven" not in seen:
        return 1, None if (told["verdict"] or "none") in seen else (rule, lost + 1, told["reason"], sorted(seen), lines), wrong
    return 0, None, wrong


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


def clock_errors(judge, lines, plain):
    """(agreed, of those decided, [words]) over errors of all clocks of their own that are stated, two at a time.

    Every order is judged by the two clocks it is read from, so two at a time on the ellipse their uncertainties span are what a
    decided verdict must bear.
    """
    rows = [json.loads(line) for line in lines]
    wide = {row["clock"]: row["timeUncertaintyMs"] for row in rows if row["clock"] != "truck" and row.get("timeUncertaintyMs") is not None}
    shifts = [{}] + [{clock: sign * u} for clock, u in sorted(wide.items()) for sign in (-1, 1)]
    for one, two in itertools.combinations(sorted(wide), 2):
        shifts += [{one: wide[one] * math.cos(math.pi * i / 8), two: wide[two] * math.sin(math.pi * i / 8)} for i in range(16)]
    seen = [set() for _ in plain]
    for shift in shifts:
        moved = []
        for row in rows:
            row = dict(row)
            if row["clock"] in wide:
                # A shade less than stated: the judge's uncertainty ends there.
                error = datetime.timedelta(milliseconds=0.999 * shift.get(row["clock"], 0))
                row.update(time=text_of(stamp(row["time"]) + error), clock="truck", timeUncertaintyMs=0)
            moved.append(packed(row))
        for words, found in zip(seen, judge(moved)):
            words.add(found["verdict"] or "none")
    agreed = decided = 0
    wrong = []
    for found, words in zip(plain, seen):
        told = found["verdict"] or "none"
        if told != "unproven" and words - {told, "unproven"}:
            wrong.append(f"clock errors: {found['rule']} {told}, but errors within the stated ones give {sorted(words)}")
        if len(words) == 1 and "unproven" not in words:
            agreed += 1
            decided += told in words
    return agreed, decided, wrong


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
