"""total_in_phase by the written text: the way rolled, by the rope counter, or driven, by the truck's receiver."""

import math
from fractions import Fraction

from naive_facts import U, both, merge
from naive_measures import UNIT_FACTOR, beyond, limit_at, reading_lines, root_up
from naive_rules import Skipped, clip, clock_width, ends_of, finding, first_reason, less, outward, rule_phases, worst
from naive_text import one, quantity
from naive_timed import fix_speeds

SECOND = 10**6


def handlings(job):
    """[(start, end)]: one load, unload, winch-out or reposition."""
    starts = sorted(t for n in ("rigging.on", "mode.rolling.on", "line.pulling.on") for t, _ in job.edges(n))
    done = both(both(job.fact("wheels.on_deck"), [(a, b, v is not True, l) for a, b, v, l in job.fact("mode.rolling")]),
                [(a, b, v is not True, l) for a, b, v, l in job.fact("deck.moving")])
    ends = sorted([t for t, _ in job.edges("rigging.off")] +
                  [a for a, _, v, _ in merge(done) if v is True and a > job.start])
    out, now = [], -1
    for t in starts:
        if t < now:
            continue
        now = min([e for e in ends if e > t] + [job.end])
        out.append((t, now))
    return out


def visits(job):
    """[(start, end)]: a stay of the truck ends where it moves for 30 s, the next begins where that move ends."""
    out, begin = [], job.start
    for a, b, v, _ in job.fact("truck.moving"):
        if v is True and b - a >= 30 * 10**6:
            out.append((begin, a))
            begin = b
    return out + [(begin, job.end)]


def legs_of(values, threshold):
    """Zigzag: differences of turning points; a reversal counts when it exceeds the threshold; the last leg ends where the rope stands."""
    turns, way = [values[0]], 0
    extreme = values[0]
    for value in values[1:]:
        if way == 0:
            if abs(value - turns[0]) > threshold:
                way = 1 if value > turns[0] else -1
                extreme = value
        elif (value - extreme) * way >= 0:
            extreme = value
        elif abs(value - extreme) > threshold:
            turns.append(extreme)
            way, extreme = -way, value
    return [abs(b - a) for a, b in zip(turns, turns[1:] + values[-1:])]


def way_rolled(rope, spans, hold, threshold):
    """(sum of legs, chords, time without a value, whether a hole is ended by no later sample)."""
    total, chords, missing, cut = Fraction(0), 0, 0, False
    for a, b in spans:
        values = [v for t, v, _ in rope if a <= t < b and v is not None]
        held = [v for t, v, _ in rope if t < a and a - t <= hold]
        values = held[-1:] + values
        edge = a
        for t, stop, v, _ in [(t, min(t + hold, rope[i + 1][0] if i + 1 < len(rope) else b), v, 0)
                              for i, (t, v, _) in enumerate(rope) if v is not None] + [(b, b, 0, 0)]:
            if stop < a or t > b:
                continue
            if t > edge:
                missing += t - edge
                cut = cut or not any(x[0] >= t for x in rope)
            edge = max(edge, stop)
        if values:
            found = legs_of(values, threshold)
            total += sum(found)
            chords += len(found)
    return total, chords, missing, cut


def tag_stands_still(job, rope):
    """A tag that never leaves its place while the rope runs metres past its noise."""
    fixes = [l.body for l in job.lines if l.kind == "fix" and l.source == "gps.tag"]
    values = [v for _, v, _ in rope if v is not None]
    if not fixes or not values:
        return False
    far = max(math.hypot(f["latDeg"] - fixes[0]["latDeg"], f["lonDeg"] - fixes[0]["lonDeg"]) * 111_000 for f in fixes)
    return far < 0.5 and (max(values) - min(values)) / 1000 > far + 6 * max(f["hSdM"] for f in fixes)


class Way:
    """lo, best and hi in mm (hi None where nothing bounds it), and whether something is missing (and ends with the record)."""

    def __init__(self, lo, best, hi, missing=False, cut=False):
        self.lo, self.best, self.hi, self.missing, self.cut = lo, best, hi, missing, cut


def stated_pace(proc, what):
    """mm/s that a hole can hide, where the procedure says so."""
    said = [quantity(one(c, "rate"))[0] for c in proc.get("fastest_change", []) if one(c, "quantity") == what]
    return said[-1] if said else None


def rolled(job, proc, spans, hold):
    u = root_up(2 * (U * job.sd("line.out")(0)) ** 2)  # of one chord, whole millimetres
    total, chords, missing, cut = way_rolled(job.samples("line.out"), spans, hold, u)
    half = root_up(u * u * chords)
    winch = one(job.truck(), "winch", {})
    line_speed = quantity(one(winch, "line_speed"))[0] if one(winch, "line_speed") else None
    paces = [p for p in (line_speed, stated_pace(proc, "vehicle.rolled")) if p is not None]
    hi = total + half
    if missing:
        hi = hi + Fraction(min(paces)) * missing / SECOND if paces else None
    return Way(max(0, total - half), total, hi, bool(missing), cut)


def driven(job, proc, spans, hold):
    tau = job.tau("truck.speed") or Fraction(3, 2) * SECOND
    stated = one(job.sensor("truck.speed"), "sd")
    speeds = fix_speeds(job, "truck.speed", Fraction(hold, SECOND))
    still = [(p, q) for p, q, v, _ in job.fact("truck.moving") if v is False]
    heard = max((stop for _, stop, _, _ in speeds), default=job.end)
    way, square, free = Fraction(0), Fraction(0), []
    for a, b in spans:
        covered, sd = 0, Fraction(0)
        for start, stop, value, own in speeds:
            part = min(b, stop) - max(a, start)
            if part > 0:
                way, covered = way + Fraction(value) * part / SECOND, covered + part
                sd = max(sd, quantity(stated)[0] if stated else own)
        square += (sd * Fraction(math.sqrt(2 * tau * covered)) / SECOND) ** 2
        free += less(less([(a, b)], [(p, q) for p, q, _, _ in speeds]), still)
    u = U * Fraction(math.sqrt(square))
    pace = stated_pace(proc, "truck.driven") or 40_000
    blind = sum(q - p for p, q in free)
    return Way(max(0, way - u), way, way + u + Fraction(pace) * blind / SECOND, bool(free), all(p >= heard for p, _ in free))


def with_clocks(job, measure, spans, widths):
    """The way, and what it may be where the clocks of edges and readings differ: over more, and over less."""
    way = measure(spans)
    if not any(widths.values()):
        return way, None
    wide = measure([(a - widths[a], b + widths[b]) for a, b in spans])
    inner = [(a + widths[a], b - widths[b]) for a, b in spans if a + widths[a] < b - widths[b]]
    least = measure(inner) if inner else Way(0, 0, 0)
    hi = None if way.hi is None or wide.hi is None else max(way.hi, wide.hi)
    return Way(min(way.lo, least.lo), way.best, hi, way.missing or wide.missing, way.cut and (wide.cut or not wide.missing)), way


def total_in_phase(job, proc, rule, form):
    name, what = one(rule, "id"), one(form, "quantity")
    _, spans, hidden, doubt = rule_phases(job, proc, rule, one(form, "phase"))
    word = "under" if "under" in form else "at_most"
    limit, unit = limit_at(job, one(form, word), word)
    factor = UNIT_FACTOR[unit]
    if not spans:
        if hidden:
            return finding(name, "unknown", "unproven", "no_data", unit=unit, factor=factor)
        return finding(name, "no")
    if what == "vehicle.rolled":
        rope = job.samples("line.out")
        if not rope:
            raise Skipped("vehicle.rolled without a rope counter")
        tag = [l for l in job.lines if l.kind == "fix" and l.source == "gps.tag" and any(a <= l.time < b for a, b in spans)]
        if tag and all(l.body["speedMps"] == 0 for l in tag):
            raise Skipped("a tag that holds still beside the rope: the range spans the estimator's too")
        if tag_stands_still(job, rope):
            return finding(name, "yes", "unproven", "sources_disagree", unit=unit, factor=factor)
    if limit(0) is None:
        return finding(name, "yes", "unproven", "no_data")
    hold = int(quantity(one(form, "longest_gap", "3 s" if what == "vehicle.rolled" else "10 s"))[0])

    def measure(some):
        return (rolled if what == "vehicle.rolled" else driven)(job, proc, some, hold)

    lines = reading_lines(job, what)
    results = []
    per = one(form, "per", "HANDLING")
    groups = handlings(job) if per == "HANDLING" else visits(job) if per == "VISIT" else [(job.start, job.end)]
    for begin, end in groups:
        inside = clip(spans, [(begin, end)])
        if not inside:
            continue
        widths = {}
        for span in inside:
            for at, line in zip(span, ends_of(job, proc, rule, one(form, "phase"), span)):
                widths[at] = clock_width(job, lines, line)
        best = limit(0)[1]
        if None in widths.values():
            results.append(("unproven", "no_data" if measure(inside).missing else "clock_doubt", None, best - measure(inside).best, None))
            continue
        way, by_noise = with_clocks(job, measure, inside, widths)
        margins = [None if way.hi is None else best - way.hi, best - way.best, best - way.lo]
        sure = less(inside, doubt)
        if sure != inside:
            margins[2] = best - with_clocks(job, measure, sure, {**dict.fromkeys([t for s in sure for t in s], 0), **widths})[0].lo
        lo, mid, hi = outward(*margins)
        within = lo is not None and (lo > 0 if word == "under" else lo >= 0)
        if beyond(hi, word):
            results.append(("deviated", "", lo, mid, hi))
        elif within and not way.missing:  # a way that may hide in a hole acquits nobody, however short the hole
            results.append(("met", "", lo, mid, hi))
        else:
            noisy = outward(None if by_noise.hi is None else best - by_noise.hi, 0, best - by_noise.lo) if by_noise else (None, 0, None)
            clear = by_noise and noisy[0] is not None and (noisy[0] >= 0 or noisy[2] < 0)
            why = "cut_short" if way.missing and way.cut else "no_data" if way.missing or sure != inside else \
                "clock_doubt" if clear else "too_close"
            results.append(("unproven", why, lo, mid, hi))
    if not results:
        return finding(name, "no")
    return worst(name, results, bool(hidden), unit, factor)
