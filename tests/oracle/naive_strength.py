"""Naive evaluator: enough_strength, counted as 49 CFR 393.106(d) when held against half the mass."""

import datetime
from fractions import Fraction

from naive_facts import value_at
from naive_rules import finding, outward, rule_phases, worst
from naive_text import one, quantity

# 49 CFR 393.108, synthetic webbing, as printed: mm -> kg.
WEBBING = ((45, 790), (50, 910), (75, 1360), (100, 1810))


# Defects that void a piece: knots and cracks (49 CFR 393.104), burns and stitches (29 CFR
# 1910.184(i)(9)). Any other word leaves it open; cuts by size are not among the cases.
VOID = ("knot", "crack", "broken", "melt", "char", "burn", "acid", "caustic", "stitch", "distort", "bent")


def holds(gear, day):
    """Whether a piece counts at all: True, False, or None where its defect does not say."""
    if gear is None:
        return True
    for field, good in (("in_service", lambda d: d <= day), ("inspect_by", lambda d: day <= d),
                        ("out_of_service", lambda d: day < d)):
        if one(gear, field) and not good(one(gear, field)):
            return False
    defect = one(gear, "defect")
    return True if not defect else False if defect.startswith(VOID) else None


DAY = 86400 * 10**6


def day_of(t):
    """Calendar day of an instant, as gear files write it: a piece that ran out never counts from then on."""
    return (datetime.datetime(1970, 1, 1) + datetime.timedelta(days=int(t // DAY))).strftime("%Y-%m-%d")


def midnights(job, spans):
    """Ends of days within the spans, up to the job's last line."""
    last = max(line.time for line in job.lines)
    return {t for a, b in spans for t in range(int(a // DAY + 1) * DAY, int(min(b, last)) + 1, DAY) if t < b}


def by_forces(job):
    """The base goes by rules that ask for forces on straps; no line of a job says where a strap pulls."""
    return any(one(base, "rules", "").startswith("en12195") for base in job.register.get("base", []))


def rating(job, gear, day):
    """(lo, hi) in g of one piece of gear; hi None = unbounded."""
    if holds(gear, day) is False:
        return Fraction(0), Fraction(0)
    lo, hi = marked(gear)
    return (lo if holds(gear, day) else Fraction(0)), hi


def marked(gear):
    """The same by its tag, or by the table for unmarked gear."""
    if gear is None:
        return Fraction(0), None
    if one(gear, "wll"):
        value = quantity(one(gear, "wll"))[0]
        return value, value
    if one(gear, "kind") == "WEBBING" and one(gear, "width"):
        width = quantity(one(gear, "width"))[0]
        fits = [kg for mm, kg in WEBBING if mm <= width]
        if fits:
            return Fraction(fits[-1] * 1000), Fraction(fits[-1] * 1000)
    if one(gear, "kind") == "WEBBING":
        return Fraction(0), Fraction(1810 * 1000)
    return Fraction(0), None


def assembly(job, strap, anchor, day):
    """Ratings of a strap and of what it hangs on."""
    parts = [rating(job, job.gear(strap), day)]
    if anchor and job.gear(anchor):
        parts.append(rating(job, job.gear(anchor), day))
    if job.gear(strap) and one(job.gear(strap), "anchor_wll"):
        value = quantity(one(job.gear(strap), "anchor_wll"))[0]
        parts.append((value, value))
    return parts


def enough_strength(job, proc, rule, form):
    name = one(rule, "id")
    _, spans, hidden, doubt = rule_phases(job, proc, rule, one(form, "phase"))
    least = int(one(form, "least_count", 0))

    def pair(first, second):
        return [first] + ([dict(second, rule=name + ".count")] if least else [])
    if not spans:
        if hidden:
            return pair(finding(name, "unknown", "unproven", "no_data", unit="kg"),
                        finding(name, "unknown", "unproven", "no_data", unit="items"))
        return pair(finding(name, "no"), finding(name, "no"))
    share, mass = Fraction(one(form, "times_mass")), job.mass()
    pieces = {}
    for line in job.lines:
        if line.kind == "tiedown" and line.body["on"]:
            pieces[(line.body["gear"], line.body.get("wheel", ""), line.body.get("point", ""))] = line
    moments = sorted({a for a, _ in spans} | midnights(job, spans) | {
        s[0] for key in pieces for s in job.piece(key) if any(a <= s[0] < b for a, b in spans)})
    results, counts = [], []
    for t in moments:
        day = day_of(t)
        lo, hi, count_lo, count_hi = Fraction(0), Fraction(0), 0, 0
        # Best: what was last said to be on; a piece whose rating or defect is open adds nothing.
        best_sum, best_count = Fraction(0), 0
        for key, last in pieces.items():
            spoken = [l for l in job.lines if l.kind == "tiedown" and l.time <= t and key ==
                      (l.body["gear"], l.body.get("wheel", ""), l.body.get("point", ""))]
            line = next((l for l in reversed(spoken) if l.body["on"]), last)
            on = value_at(job.piece(key), t)
            if on is False:
                continue
            credit = Fraction(1) if line.body["path"] == "ACROSS" else Fraction(1, 2)
            anchor = line.body.get("anchorGear")
            parts = assembly(job, key[0], anchor, day)
            his = [h for _, h in parts if h is not None]
            piece_hi = min(his) * credit if his else None
            hi = None if hi is None or piece_hi is None else hi + piece_hi
            used = [holds(job.gear(key[0]), day)] + ([holds(job.gear(anchor), day)] if anchor else [])
            if False in used:  # not in service, out of date, void: no piece at all
                continue
            # A piece last said to be off, or not yet said, is one that a lost line may have put on: those
            # are counted below, once a lost line, for one line puts on one piece.
            count_hi += bool(spoken) and spoken[-1].body["on"]
            if spoken and spoken[-1].body["on"]:
                best_sum += min(l for l, _ in parts) * credit
                best_count += None not in used
            if on:
                lo += min(l for l, _ in parts) * credit
                count_lo += None not in used
        for source in {line.source for line in pieces.values()} | job.people():
            lost = job.lost_before(source, t)
            if lost is None or lost > 0:  # a piece that no line names may be on, of any strength
                hi, count_hi = None, count_hi + (32 if lost is None else lost)
        if mass is None or by_forces(job):
            results.append(("unproven", "no_data", None, None, None))
        else:
            m_lo, m_hi = lo - share * mass[2], None if hi is None else hi - share * mass[0]
            known = lo == hi
            best = best_sum - share * mass[1]
            m_lo, best, m_hi = outward(m_lo, best, m_hi)
            sure = not any(a <= t < b for a, b in doubt)
            verdict = "met" if m_lo >= 0 else "deviated" if sure and m_hi is not None and m_hi < 0 else "unproven"
            known = known and sure
            results.append((verdict, "" if verdict != "unproven" else "too_close" if known else "no_data", m_lo, best, m_hi))
        verdict = "met" if count_lo >= least else "deviated" if count_hi < least and not any(a <= t < b for a, b in doubt) else "unproven"
        counts.append((verdict, "no_data" if verdict == "unproven" else "", count_lo - least,
                       best_count - least, count_hi - least))
    return pair(worst(name, results, bool(hidden), "kg", 1000), worst(name, counts, bool(hidden), "items", 1))
