"""Findings, phases and what the forms of the naive evaluator share."""

import math
from fractions import Fraction

from naive_text import one, quantity

REASONS = ("no_data", "too_close", "clock_doubt", "sources_disagree", "not_yet", "cut_short")


class Skipped(Exception):
    pass


def finding(rule, applies="yes", verdict="", reason="", best=None, lo=None, hi=None, unit="", factor=1):
    def out(value):
        return None if value is None else float(Fraction(value) / Fraction(factor))
    return {"rule": rule, "applies": applies, "verdict": verdict, "reason": reason, "marginLo": out(lo),
            "marginBest": out(best), "marginHi": out(hi), "unit": unit, "sentence": "-", "evidence": []}


def outward(lo, best, hi):
    """Margins as whole stored units: the range rounded outward, best to the nearest."""
    return (None if lo is None else math.floor(lo), None if best is None else math.floor(Fraction(best) + Fraction(1, 2)),
            None if hi is None else math.ceil(hi))


def first_reason(reasons):
    return min(reasons, key=REASONS.index)


# --- phases ---

def early(job, name, t):
    """How much earlier an edge may have been that was first seen after an unknown stretch."""
    if not job.is_fact_event(name):
        return 0
    fact = name.rsplit(".", 1)[0]
    found = [b - a for a, b, v, _ in job.fact(fact) if v is None and b == t and a > job.start]
    if job.fact(fact)[0][2] is None and job.fact(fact)[0][1] == t:  # unknown from opened on: since a line was lost
        found += [t - g[0] - 1 for source in job.speakers(fact) for g in job.gaps.get(source, []) if g[0] < t]
    return max(found, default=0)


def event_hidden(job, name):
    """Spans in which the fact behind an event is unknown through a gap, hole or want of any source."""
    if not job.is_fact_event(name):
        sources = {l.source for _, l in job.events(name)} | job.people()
        if name == "first_touch":
            sources = job.people() | {"clamp"}
        return [(a + 1, b or job.end) for s in sources for a, b in job.gaps.get(s, [])]
    found = job.unseen(name.rsplit(".", 1)[0], job.start, job.end)
    return found + [(t, t + 1) for t, _ in (job.unsure_offs(name) if name.endswith(".off") else job.unsure_ons(name))]


def phase_spans(job, proc, name):
    """[(open, close)]; spans that may hide an opening; spans after an opening whose close may be hidden."""
    phase = next(p for p in proc["phase"] if one(p, "id") == name)
    opens, closes = job.events(one(phase, "opens")), job.events(one(phase, "closes"))
    spans, now = [], -1
    for t, _ in opens:
        if t < now:
            continue
        stop = min([c for c, _ in closes if c > t] + [job.end])
        spans.append((t, stop))
        now = stop
    hidden = [h for h in event_hidden(job, one(phase, "opens")) if not any(a <= h[0] and h[1] <= b for a, b in spans)]
    # What ends the job hides nowhere before lines that go on.
    ends = [] if one(phase, "closes") in ("closed", "abandoned") else event_hidden(job, one(phase, "closes"))
    # What closes at the instant of an opening comes before it.
    doubt = [(max(a, min(h[0] for h in ends if h[1] > a + 1 and h[0] < b)), b) for a, b in spans
             if any(h[1] > a + 1 and h[0] < b for h in ends)]
    return phase, spans, hidden, doubt


def ends_of(job, proc, rule, name, span):
    """The lines that open and close a stay of the phase (within while_phase); the job's own where none does."""
    ends = []
    for t, way, usual in ((span[0], "opens", job.opened), (span[1], "closes", None)):
        found = []
        for phase in proc["phase"]:
            if one(phase, "id") in (name, one(rule, "while_phase")):
                found += [line for when, line in job.events(one(phase, way)) if when == t and line is not None]
        last = [line for line in job.lines if line.kind in ("closed", "abandoned")]
        ends.append(found[0] if found else usual or (last[0] if last else job.opened))
    return ends


def clock_width(job, readings, end):
    """How far the times of these lines may be off against that of `end`; None where they cannot be compared."""
    def known(line):
        if line.clock is not None and line.clock == job.opened.clock or getattr(line, "shared", False):
            return True
        return line.wide is not None
    widest = 0
    for line in readings:
        if line.clock == end.clock and line.clock is not None:
            continue
        if not known(line) or not known(end):
            return None
        widest = max(widest, math.isqrt(math.ceil(line.u ** 2 + end.u ** 2)))
    return widest


def phase_fact(job, proc, name):
    """The phase as a fact, less stays and breaks that do not last its debounce; dated at the first edge."""
    phase, spans, _, _ = phase_spans(job, proc, name)
    shortest = int(quantity(one(phase, "debounce", "0 s"))[0])
    cuts = [job.start] + [t for span in spans for t in span] + [job.end]
    out, steady, since = [], False, job.start
    left = None  # where the value left the steady one
    for i, (a, b) in enumerate(zip(cuts, cuts[1:])):
        value = i % 2 == 1
        lasts = b - a >= shortest or b == job.end
        if value != steady and left is None:
            left = a
        if not lasts:
            continue
        if value != steady:
            out.append((since, left, steady, "phase"))
            since, steady = left, value
        left = None
    return out + [(since, job.end, steady, "phase")]


def less(spans, others):
    """What of spans lies in none of the others."""
    for start, stop in others:
        spans = [part for a, b in spans for part in ((a, min(b, start)), (max(a, stop), b)) if part[0] < part[1]]
    return spans


def clip(spans, others):
    return [(max(a, c), min(b, d)) for a, b in spans for c, d in others if max(a, c) < min(b, d)]


def not_freed(job, rule, hidden):
    """Hidden spans less those that begin after the rule's `unless`: what hides there is free anyway."""
    hits = [t for t, _ in job.events(one(rule, "unless"))] if one(rule, "unless") else []
    return [h for h in hidden if not any(t <= h[0] for t in hits)]


def freeing(job, rule):
    """When `unless` first happened; None."""
    return min([t for t, _ in job.events(one(rule, "unless"))], default=None) if one(rule, "unless") else None


def may_hide_before(job, rule, spans, start):
    """Whether one of the hidden spans reaches in between `start` and the rule's `unless`."""
    free = freeing(job, rule)
    return any(b > start and max(a, start) < free for a, b in spans)


def rule_phases(job, proc, rule, name):
    phase, spans, _, doubt = phase_spans(job, proc, name)
    # Also within a stay that is known: it may be two.
    hidden = not_freed(job, rule, event_hidden(job, one(phase, "opens")))
    if one(rule, "while_phase"):
        _, within, more, unsure = phase_spans(job, proc, one(rule, "while_phase"))
        hidden = clip(hidden, within + more) + clip(spans, more)
        spans, doubt = clip(spans, within), clip(doubt, within) + clip(spans, unsure)
    if one(rule, "unless"):
        hits = [t for t, _ in job.events(one(rule, "unless"))]
        spans = [(a, b) for a, b in spans if not any(t <= a for t in hits)]
        spans = [(a, min([b] + [t for t in hits if t > a])) for a, b in spans]
    return phase, spans, hidden, doubt


def in_while(job, proc, rule, events):
    """Events the rule is about, and where more of them may hide."""
    if not one(rule, "while_phase"):
        return events, lambda hidden: not_freed(job, rule, hidden)
    _, within, more, _ = phase_spans(job, proc, one(rule, "while_phase"))
    # An event that was seen while the phase may have been open unseen is a hidden one of the rule's.
    free = freeing(job, rule)
    doubtful = [(e[0], e[0] + 1) for e in events if any(a <= e[0] < b for a, b in more) and (free is None or e[0] <= free)]
    return ([e for e in events if any(a <= e[0] < b for a, b in within)],
            lambda hidden: clip(not_freed(job, rule, hidden), within + more) + doubtful)


def one_before(events, t, line):
    """The event before this one, if it is of the same instant by the order of the lines; None."""
    at = next(i for i, (when, own) in enumerate(events) if when == t and own.ref() == line.ref())
    return events[at - 1] if at else None


def maybe_outside(job, proc, rule, t, result):
    """A deviation stands only where the rule's while_phase surely lasted until t."""
    if not one(rule, "while_phase") or result[0] != "deviated":
        return result
    doubt = phase_spans(job, proc, one(rule, "while_phase"))[3]
    return ("unproven", "no_data") + result[2:4] + (None,) if any(a <= t < b for a, b in doubt) else result


def gaps_hiding(job, name):
    """Where a lost line may hide the event; a fact that no line names did not happen outside of those."""
    if job.is_fact_event(name):
        fact = name.rsplit(".", 1)[0]
        if all(line is None for _, _, _, line in job.fact(fact)):
            gaps = [g[0] + 1 for source in job.speakers(fact) for g in job.gaps.get(source, [])]
            return [(min(gaps), job.end)] if gaps else []
    return event_hidden(job, name)


def maybe_freed(job, rule, t, result):
    """A deviation stands only where no gap before t may hide the `unless`; what ends a job hides nowhere before lines that go on."""
    event = one(rule, "unless")
    if not event or event in ("abandoned", "closed") or result[0] != "deviated":
        return result
    if any(a < t for a, _ in gaps_hiding(job, event)):
        return ("unproven", "no_data") + result[2:4] + (None,)
    return result


def worst(name, results, hidden, unit, factor):
    def key(result):
        return (result[3] is not None, result[3] if result[3] is not None else 0)
    for verdict in ("deviated", "unproven", "met"):
        some = [r for r in results if r[0] == verdict]
        why = hidden if isinstance(hidden, str) else "no_data"
        if verdict == "met" and hidden:
            at = min(some, key=key)
            return finding(name, "yes", "unproven", why, at[3], at[2], at[4], unit, factor)
        if some:
            reasons = [r[1] for r in some if r[1]] + ([why] if hidden and verdict == "unproven" else [])
            reason = first_reason(reasons) if reasons else ""
            at = min(some, key=key)
            return finding(name, "yes", verdict, reason, at[3], at[2], at[4], unit, factor)
    return None
