"""Naive evaluator: follows_within, wait_between, stays_until, never_together, count_limit, recheck_every,
sources_agree, and sets of rules."""

import copy
import math
from fractions import Fraction

from naive_facts import U, in_doubt, value_at
from naive_measures import root_up
from naive_order import apart, may_follow, otherwise_by_clock, unsure_since
from naive_rules import (clip, early, event_hidden, finding, first_reason, gaps_hiding, in_while, less, may_hide_before, maybe_freed, maybe_outside,
                         not_freed, one_before, phase_spans, rule_phases, worst)
from naive_text import one, quantity

SECOND = 10**6


def us(text, default="0 s"):
    return int(quantity(text or default)[0])


def freed(job, rule, t, through=False):
    """`unless` before t."""
    if not one(rule, "unless"):
        return False
    return any(when < t or through and when <= t for when, _ in job.events(one(rule, "unless")))


def between(job, first, a, then, b):
    """(lo, best, hi) of the time from event a of `first` to event b of `then`."""
    span = apart(a[1], b[1])
    if span is None:
        return None
    best = b[0] - a[0]
    return best + (span[0] - span[1]) - early(job, then, b[0]), best, best + (span[2] - span[1]) + early(job, first, a[0])


def judged(lo, best, hi, reasons):
    """(verdict, reason, lo, best, hi): inside whatever is hidden, outside whatever is hidden, or unproven."""
    if lo is not None and lo >= 0:
        return "met", "", lo, best, hi
    if hi is not None and hi < 0:
        return "deviated", "", lo, best, hi
    return "unproven", first_reason(reasons) if reasons else "too_close", lo, best, hi


def total(name, results, hidden, unit="s", factor=SECOND):
    if not results:
        if hidden:
            why = hidden if hidden == "clock_doubt" else "no_data"
            return finding(name, "unknown", "unproven", why, unit=unit, factor=factor)
        return finding(name, "no")
    return worst(name, results, hidden if isinstance(hidden, str) else bool(hidden), unit, factor)


def follows_within(job, proc, rule, form):
    name, limit = one(rule, "id"), us(one(form, "within"))
    starts, narrow = in_while(job, proc, rule, job.events(one(form, "after")))
    hidden = narrow(event_hidden(job, one(form, "after")))
    results, unfreed = [], False
    for t, line in starts:
        spans = [(b[0], between(job, one(form, "after"), (t, line), one(form, "then"), b)) for b in job.events(one(form, "then"))]
        reasons = []
        able = [s for _, s in spans if s is not None and s[2] >= 0]
        answer = min([when for when, s in spans if s is not None and s[2] >= 0 and s[1] >= 0], default=None)
        lo = max([limit - s[2] for s in able if s[0] >= 0], default=None)
        hi = max([limit - max(0, s[0]) for s in able], default=None)
        best = max([limit - s[1] for s in able if s[1] >= 0], default=None)
        if hi is None:
            hi = limit - (job.end - t)
            if hi >= 0:
                reasons.append("cut_short")
        elif hi >= 0 and (lo is None or lo < 0):
            reasons.append("clock_doubt")
        if any(s is None for _, s in spans):
            hi = limit
            reasons.append("clock_doubt")
        last = min(t + limit + 1, t + limit + 1 if answer is None else answer)
        for a, b in not_freed(job, rule, gaps_hiding(job, one(form, "then"))):
            if b > t - early(job, one(form, "after"), t) and a < last:  # an A first seen after a gap may have come in it
                hi = max(hi, limit - max(0, a - t))
                reasons.append("no_data")
        due = t + limit if answer is None else min(answer, t + limit)  # outside from then on
        if freed(job, rule, due):
            if may_hide_before(job, rule, not_freed(job, rule, gaps_hiding(job, one(form, "then"))), t):
                unfreed = True  # a B that hides may have come before the rule was freed
            continue
        results.append(maybe_outside(job, proc, rule, t, maybe_freed(job, rule, due, judged(lo, best, hi, reasons))))
    if one(rule, "unless") == one(form, "after"):
        hidden, unfreed = [], False  # an A that nobody saw would have freed the rule
    return total(name, results, hidden or unfreed)


def wait_between(job, proc, rule, form):
    name, first = one(rule, "id"), one(form, "from")
    least = "at_least" in form
    limit = us(one(form, "at_least" if least else "at_most"))
    everything = job.events(one(form, "to"))
    ends, narrow = in_while(job, proc, rule, everything)
    hidden = bool(narrow(event_hidden(job, one(form, "to"))))
    own = one(rule, "unless") == first  # an A that nobody saw would have freed the rule
    results, clocky = [], False
    for t, line in ends:
        if freed(job, rule, t):
            continue
        last = one_before(everything, t, line)
        floor = last[0] if last else job.start - 1
        gaps = not_freed(job, rule, gaps_hiding(job, first))
        edge = job.is_fact_event(first)
        if edge:
            fact, way = first.rsplit(".", 1)
            now = value_at(job.fact(fact), t)
            prior = [e for e in job.edges(first) if e[0] <= t]
            if now is not None and otherwise_by_clock(job, first, t, line, now is (way == "on")):
                clocky = clocky or not own
                continue
            if now is None or now is (way == "on") and not prior and job.unseen(fact, job.start, t):
                hidden = hidden or not own
                continue
            if now is not (way == "on") or not prior:
                clocky = clocky or not own and any(may_follow(line, e[1]) for e in [e for e in job.edges(first) if e[0] > t][:1])
                continue
            chosen = prior[-1]
        else:
            firsts = job.events(first)
            prior = [e for e in firsts if floor < e[0] <= t]
            chosen = None if not prior else prior[0] if least else prior[-1]
            later = not least and any(may_follow(line, own_line) for when, own_line in firsts if when > t)
            sooner = not least and last is not None and any(
                may_follow(own_line, last[1], early(job, one(form, "to"), last[0])) for when, own_line in firsts if when <= floor)
            if later or sooner or unsure_since(job, chosen, firsts, last, one(form, "to")):
                clocky = clocky or not own
                continue
            if not prior:
                clocky = clocky or not own and any(may_follow(line, e[1]) for e in [e for e in firsts if e[0] > t][:1])
                hidden = hidden or not own and any(a < t and b > floor for a, b in gaps)
                continue
        span = between(job, first, chosen, one(form, "to"), (t, line))
        if span is None:
            results.append(("unproven", "clock_doubt", None, None, None))
            continue
        low, best, high = span
        after = low < 0  # as far as the clocks go, and then B waited for none
        reasons = ["clock_doubt"] if (low - limit < 0 <= high - limit if least else limit - high < 0 <= limit - low) else []
        for a, b in gaps:
            if a < t and b > chosen[0] and (edge or not least):  # another one may count instead
                low = min(low, max(0, t - b))
                reasons.append("no_data")
            if not edge and least and a < chosen[0] and b > floor:
                high = max(high, min(t - a, t - floor if floor >= job.start else t - a))
                reasons.append("no_data")
        lo, mid, hi = (low - limit, best - limit, high - limit) if least else (limit - high, limit - best, limit - low)
        if after and hi < 0:
            hi, reasons = None, reasons + ["clock_doubt"]
        # An A that happened once belongs to the next B: one that hides between would have taken it.
        taken = [h for h in not_freed(job, rule, gaps_hiding(job, one(form, "to"))) if h[0] < t and h[1] > chosen[0]]
        if not edge and hi is not None and hi < 0 and taken:
            hi, reasons = None, reasons + ["no_data"]
        results.append(maybe_outside(job, proc, rule, t, maybe_freed(job, rule, t, judged(lo, mid, hi, reasons))))
    hidden = True if hidden else "clock_doubt" if clocky else False
    return total(name, results, hidden if results or not own else False)


def recorded(job, t):
    """A line of the recorder's own clock at t, for what no line says."""
    line = copy.copy(job.opened)
    line.time, line.u, line.wide, line.early, line.stepped, line.step = t, Fraction(0), 0, 0, False, 0
    return line


def mark(job, t, line, event=None):
    """(time, line, how much sooner it may have come) of what `span` compares."""
    return t, line or recorded(job, t), early(job, event, t) if event else 0


def span(a, b):
    """(lo, best, hi) of the time from mark a to mark b; None where their clocks cannot be compared."""
    found = apart(a[1], b[1])
    if found is None:
        return None
    best = b[0] - a[0]
    return best + found[0] - found[1] - b[2], best, best + found[2] - found[1] + a[2]


def one_clock(a, b):
    return a[1].clock == b[1].clock and a[1].clock is not None


def loss(job, spans, start, bridge, end, unknown_lost):
    """The first mark after `start` from which it is lost for longer than the bridge, as surely as that may be; None."""
    def lost_until(off, back):
        dip = span(off, back)
        if dip is None:
            return unknown_lost
        if unknown_lost:  # it may have come back before it went, and then is gone
            return dip[2] > bridge or not one_clock(off, back) and dip[0] < 0
        return dip[0] > bridge

    since = None
    for a, b, value, line in spans:
        if a <= start or a > end[0]:
            continue
        held = value is True or value is None and not unknown_lost
        if not held and since is None:
            since = mark(job, a, line)
        if held and since is not None:
            if lost_until(since, mark(job, a, line)):
                return since
            since = None
    return since if since is not None and lost_until(since, end) else None


def starts_unseen(job, spans, covered):
    """Whether (or why) an obligation may begin in one of the hidden spans, outside those that are judged."""
    # Up to the until of one it is the same obligation, and after it where the state never was lost.
    if all(any(t < a and (b <= (math.inf if end is None else end + 1) or lost is None or lost > a)
               for t, end, lost, _ in covered) for a, b in spans):
        return False
    # A hole that no later line ends is cut short.
    return True if any(job.gaps.values()) or any(b < job.end for _, b in spans) else "cut_short"


def may_end_flicker(job, state, t, bridge):
    """C was off before t for no longer than the bridge, and unseen before that (unknown at opened opens nothing)."""
    spans = job.fact(state)
    off = next((s for s in spans if s[1] == t and s[2] is False and t - s[0] <= bridge), None)
    return off is not None and any(s[1] == off[0] and s[2] is None and job.unseen(state, *s[:2]) for s in spans)


def first_ends(on, untils):
    """The untils that the clocks leave open as the first one after `on`; whether one of them surely came."""
    sure = [i for i, until in enumerate(untils) if (span(on, until) or (-1,))[0] >= 0]
    ends = []
    for i, until in enumerate(untils):
        lead = span(on, until)
        if lead is not None and lead[2] < 0:
            continue
        if not any(j < i if one_clock(untils[j], until) else (span(untils[j], until) or (0,))[0] > 0 for j in sure):
            ends.append(until)
    return ends, bool(sure)


def stay_margins(on, until, end, off, sure, limits, bridge):
    """(lo, best, hi) of one stay from mark `on` to mark `until` (None: none came up to `end`), lost at `off`, surely at `sure`."""
    least, most = limits
    lo, best, hi = [], [], []
    if until is None:
        lo.append(None)
        gone = span(sure, end) if sure else None
        hi += [-gone[0]] if gone else []
        dwell = span(on, end)
        hi += [most - dwell[0]] if most is not None and dwell else []
    else:
        def past(lost):
            if lost is None:
                return end[0] - until[0], end[0] - until[0], None
            found = span(until, lost) or (None, lost[0] - until[0], None)
            # Lost for no longer than the bridge when B came: it still counted as held.
            return tuple(0 if v is not None and -bridge <= v < 0 else v for v in found)
        lo.append(past(off)[0])
        best.append(past(off)[1])
        hi += [past(sure)[2]] if past(sure)[2] is not None else []
        dwell = span(on, until)
        if dwell is None:
            lo += [None] if least is not None or most is not None else []
        else:
            bounds = [[v - least for v in dwell]] if least is not None else []
            bounds += [[most - v for v in reversed(dwell)]] if most is not None else []
            for low, mid, high in bounds:
                lo, best, hi = lo + [low], best + [mid], hi + [high]
    return None if None in lo else min(lo), min(best, default=None), min(hi, default=None)


def stays_until(job, proc, rule, form):
    name, state, until = one(rule, "id"), one(form, "state"), one(form, "until")
    bridge, spans = us(one(form, "bridge")), job.fact(state)
    limits = [us(one(form, key)) if key in form else None for key in ("at_least", "at_most")]
    wanted, narrow = in_while(job, proc, rule, job.edges(state + ".on"))
    closing = [line for line in job.lines if line.kind in ("closed", "abandoned") and line.time == job.end]
    close = mark(job, job.end, closing[0] if closing else None)
    untils = [mark(job, *e, until) for e in job.events(until)]
    results, known, covered, hidden = [], [], [], False
    for t, line in job.edges(state + ".on"):
        if known and (known[-1][3] is None or t < known[-1][3]):
            continue  # ends a bridged flicker
        on = mark(job, t, line, state + ".on")
        end = next((u for u in untils if u[0] >= t), None)
        off, sure = loss(job, spans, t, bridge, close, True), loss(job, spans, t, bridge, close, False)
        stop = job.end if end is None else end[0]
        known.append((t, end and end[0], off and off[0], sure and sure[0]))
        if (t, line) not in wanted:
            continue
        covered.append(known[-1])
        if freed(job, rule, stop, end is None):
            hidden = hidden or may_hide_before(job, rule, not_freed(job, rule, gaps_hiding(job, until)), t)
            continue
        late = on[2] + line.early + getattr(line, "step", 0)
        margins = lambda when: stay_margins(on, when, close, off, sure, limits, bridge)
        lo, best, hi = margins(end)
        reasons = [] if end is not None else ["cut_short"]
        ends, surely = first_ends(on, untils)
        if ends and (len(ends) > 1 or not surely):  # the clocks, or a gap, leave open which B ended it
            unseen = any(v is None and a < t and b > t - late for a, b, v, _ in spans)
            reasons.append("no_data" if unseen else "clock_doubt")
            highs = [hi] + [margins(other)[2] for other in ends + ([] if surely else [None])]
            lo, hi = None, None if None in highs else max(highs)
        apart_surely = lambda a, b: one_clock(a, b) or (span(a, b) or (-1,))[0] >= 0
        if sure is not None and not apart_surely(on, sure):  # lost before it began, for all that is known
            hi, reasons = None, reasons + ["clock_doubt"]
        before = [mark(job, a, own) for a, b, v, own in spans if v is False and a < t <= b and own is not None]
        if before and not apart_surely(before[0], on):  # or what was lost before, only after it
            lo, reasons = None, reasons + ["clock_doubt"]
        if off != sure:
            reasons.append("no_data" if any(v is None and a <= stop and b > t for a, b, v, _ in spans) else "clock_doubt")
        for a, b in not_freed(job, rule, gaps_hiding(job, until)):
            if b > t - late and a < stop:
                reasons.append("no_data")
                if a < t and late:  # begun in a gap, and ended there
                    hi = None
                if b <= t:
                    continue
                # B at the earliest, at the latest, and just when C had dwelt long enough.
                first, last = max(a, t), max(a, t, min(b, stop))
                for when in (first, min(max(t + (limits[0] or 0), first), last), last):
                    here = copy.copy(line)
                    here.early, here.stepped = 0, False
                    other = margins((when, here, 0))
                    hi = None if hi is None or other[2] is None else max(hi, other[2])
                    lo = None if lo is None or other[0] is None else min(lo, other[0])
        if may_end_flicker(job, state, t, bridge):
            hi, reasons = None, reasons + ["no_data"]
        results.append(maybe_outside(job, proc, rule, t, maybe_freed(
            job, rule, job.end + 1 if end is None else stop, judged(lo, best, hi, reasons or ["clock_doubt"]))))
    hidden = hidden or starts_unseen(job, narrow(event_hidden(job, state + ".on")), covered)
    return total(name, results, hidden)


def moved_clear(job, text, a, b):
    """Whether the truck surely went no further and no faster than that from a to b."""
    way, speed = (quantity(part)[0] for part in text.split(" under "))
    fastest = [v + U * sd for p, q, v, sd in fix_speeds(job, "truck.speed") if p < b and q > a]
    return bool(fastest) and max(fastest) < speed and driven(job, a, b)[2] <= way


def never_together(job, proc, rule, form):
    name, d = one(rule, "id"), us(one(form, "tolerate"))

    def stretches(what, unknown_too):
        # Before its first word, and before any gap, a fact that somebody names counts as false.
        fact = job.fact(what)
        gap = min([g[0] + 1 for source in job.speakers(what) for g in job.gaps.get(source, [])], default=None)
        named = gap is not None or any(line is not None for _, _, _, line in fact)
        parts, seen = [], False
        for a, b, value, line in fact:
            seen = seen or in_doubt(line)
            if value is None and not seen and named:
                cut = b if gap is None else max(a, min(b, gap))
                parts += [(a, cut, False), (cut, b, None)]
            else:
                parts.append((a, b, value))
            seen = seen or value is not None
        out = []
        for a, b, value in parts:
            if a < b and (value is True or unknown_too and value is None):
                if out and out[-1][1] == a:
                    out[-1] = (out[-1][0], b)
                else:
                    out.append((a, b))
        return out

    facts = [one(form, key) for key in ("state", "with")]
    sure, may = ([stretches(f, flag) for f in facts] for flag in (False, True))
    unsure = []
    if one(rule, "while_phase"):
        _, within, more, doubt = phase_spans(job, proc, one(rule, "while_phase"))
        unsure = not_freed(job, rule, clip(clip(*may), more))  # together while the phase may have been open unseen
        sure, may = [clip(s, less(within, doubt)) for s in sure], [clip(s, within) for s in may]
    seen = bool(sure[0]) and bool(sure[1])
    both, maybe = clip(*sure), clip(*may)
    results = []
    # Touching stretches of the possible overlap are one.
    runs = []
    for a, b in sorted(maybe):
        if runs and runs[-1][1] == a:
            runs[-1] = (runs[-1][0], b)
        else:
            runs.append((a, b))
    for a, b in runs:
        inside = [(x, y) for x, y in both if a <= x and y <= b]
        if "move_clear" in form and b - a > d and moved_clear(job, one(form, "move_clear"), a, b):
            continue
        longest = max([y - x for x, y in inside], default=0)
        shown = next((x for x, y in inside if y - x == longest), a)
        if not freed(job, rule, shown) and seen:
            results.append(maybe_freed(job, rule, shown, judged(d - (b - a), d - longest, d - longest, ["no_data"] if longest != b - a else [])))
    if not maybe and seen:
        def near(x, y):
            return min([q[0] - p[1] for p in x for q in y if q[0] >= p[1]] + [p[0] - q[1] for p in x for q in y if p[0] >= q[1]])
        results.append(judged(d + min(near(*may), near(*sure)), d + near(*sure), d + near(*sure), []))
    hidden = bool(unsure) or not results and not seen and all(not_freed(job, rule, some) for some in may)
    return total(name, results, hidden)


def hidden_openings(job, proc, rule, opens, hidden):
    """Where a stay may have begun unseen, also within one that is known: it may be two."""
    return not_freed(job, rule, hidden) + in_while(job, proc, rule, [])[1](event_hidden(job, opens))


def count_limit(job, proc, rule, form):
    name = one(rule, "id")
    word = next(k for k in ("at_most", "exactly", "at_least") if k in form)
    n = int(one(form, word))
    if one(form, "phase") == "job":
        spans, hidden, opens, closes = [(job.start, job.end)], [], ["opened"], ["closed"]
        if one(rule, "while_phase"):
            _, within, more, _ = phase_spans(job, proc, one(rule, "while_phase"))
            spans, hidden = clip(spans, within), not_freed(job, rule, more)
    else:
        phase, spans, hidden, _ = rule_phases(job, proc, dict(rule, unless=[None]), one(form, "phase"))
        opens, closes = [one(phase, "opens")], [one(phase, "closes")]
        hidden = hidden_openings(job, proc, rule, opens[0], hidden)
    if one(rule, "while_phase"):
        outer = next(p for p in proc["phase"] if one(p, "id") == one(rule, "while_phase"))
        opens, closes = opens + [one(outer, "opens")], closes + [one(outer, "closes")]
    results = []
    for start, stop in spans:
        first = start - max(early(job, name, start) for name in opens)  # it may have begun, or ended, in a gap
        # Until when it is surely the same stay: the closing may hide, also where it is known to be open later.
        ends = [max(a, start) for name in closes if name not in ("closed", "abandoned")
                for a, b in event_hidden(job, name) if a < stop and b > start + 1]
        last = min([stop - max(early(job, name, stop) for name in closes)] + ends)
        event = one(form, "event")
        every = [t for t, _ in job.events(event)]
        hits = sorted(t for t in every if start <= t < stop)
        sure = [t for t in hits if t < last and t - early(job, event, t) >= start]
        unseen = [h for h in not_freed(job, rule, gaps_hiding(job, event)) if h[1] > first and h[0] < stop]
        why = "no_data"
        if event.rsplit(".", 1)[0] in ("clamp.shorted", "line.pulling"):  # told by instruments alone: no word of it is no count
            fact = job.fact(event.rsplit(".", 1)[0])
            unseen = [(a, b) for a, b, v, _ in fact if v is None and b > first and a < stop]
            if unseen and all(b == job.end and a > job.start for a, b in unseen):
                why = "cut_short"  # no later reading ends it
        count, most = len(hits), None if unseen else sum(first <= t and t - early(job, event, t) < stop for t in every)
        at = hits[n] if word != "at_least" and count > n else stop
        if freed(job, rule, at):
            if word != "at_least" and may_hide_before(job, rule, not_freed(job, rule, gaps_hiding(job, event)), first):
                hidden = True  # one too many may hide before the rule was freed
            continue
        if word == "at_most":
            margin = (None if most is None else n - most, n - count, n - len(sure))
        elif word == "at_least":
            margin = (len(sure) - n, count - n, None if most is None else most - n)
        else:
            high = n - len(sure) if len(sure) > n else most - n if most is not None and most < n else 0
            low = None if most is None else min(-abs(len(sure) - n), -abs(most - n))
            margin = (low, -abs(count - n), high)
        unsure = unseen or most != len(sure)
        results.append(maybe_freed(job, rule, at, judged(*margin, [why if unseen else "clock_doubt"] if unsure else [])))
    return total(name, results, hidden, "items", 1)


def driven(job, a, b):
    """(lo, best, hi) of the way from a to b in mm, and why something of it is not known, if so: 40 m/s there."""
    tau = job.tau("truck.speed") or Fraction(3, 2) * SECOND
    way = covered = 0
    sd = Fraction(0)
    stated = one(job.sensor("truck.speed"), "sd")
    for start, stop, value, own in fix_speeds(job, "truck.speed", 10):
        part = min(b, stop) - max(a, start)
        if part > 0:
            way, covered = way + Fraction(value * part, SECOND), covered + part
            sd = max(sd, quantity(stated)[0] if stated else own)
    u = U * sd * Fraction(math.sqrt(2 * tau * covered)) / SECOND
    # Where no reading stands, a truck said to stand drives nothing.
    free = less([(a, b)], [(p, q) for p, q, _, _ in fix_speeds(job, "truck.speed", 10)])
    free = less(free, [(p, q) for p, q, v, _ in job.fact("truck.moving") if v is False])
    blind = sum(q - p for p, q in free)
    heard = max((stop for _, stop, _, _ in fix_speeds(job, "truck.speed", 10)), default=job.end)
    why = "cut_short" if all(p >= heard for p, _ in free) else "no_data"  # no later reading ends it
    return max(0, way - u), way, way + u + Fraction(40_000 * blind, SECOND), why if free else ""


def fix_speeds(job, name, hold=3):
    """[(from, until, mm/s, s.d.)] of a receiver's speed, held 3 s (towards a way: 10 s)."""
    source = {"vehicle.speed": "gps.tag", "truck.speed": "gps.truck"}[name]
    fixes = [l for l in job.lines if l.kind == "fix" and l.source == source]
    out = []
    for i, line in enumerate(fixes):
        stop = fixes[i + 1].time if i + 1 < len(fixes) else job.end
        sd = Fraction(str(line.body.get("speedSdMps", 0.2))) * 1000
        out.append((line.time, min(stop, line.time + hold * SECOND), math.floor(line.body["speedMps"] * 1000 + 0.5), sd))
    return out


def two_receivers(job, proc, rule, form):
    """Neighbouring readings of two instruments: equals, so a difference makes doubt and no deviation."""
    name, tolerance = one(rule, "id"), quantity(one(form, "within"))
    _, spans, hidden, _ = rule_phases(job, proc, rule, one(form, "phase"))
    factor, unit = tolerance[0] / quantity("1 " + tolerance[1])[0], tolerance[1]
    scale = tolerance[0] / factor
    x, y = fix_speeds(job, one(form, "quantity")), fix_speeds(job, one(form, "with"))
    results = []
    for start, stop in spans:
        margins = []
        for a, b, v, s in x:
            for c, d, w, r in y:
                if max(a, c, start) < min(b, d, stop):
                    u = math.ceil(U * root_up((1000 * s) ** 2 + (1000 * r) ** 2) / 1000)  # whole mm/s, outward
                    best = math.floor(tolerance[0] + Fraction(1, 2)) - abs(v - w)
                    margins.append((best - u, best, best + u))
        reasons = []
        for some in (x, y):
            edge = start
            for a, b, _, _ in some + [(stop, stop, 0, 0)]:
                if a > edge and edge < stop and b > start:
                    reasons.append("no_data")
                edge = max(edge, b)
        lo, best, hi = (min(m[i] for m in margins) for i in range(3)) if margins else (None, None, None)
        if hi is not None and hi < 0:
            results.append(("unproven", "sources_disagree", lo, best, None))
        elif reasons:
            results.append(("unproven", "no_data", lo, best, hi))
        else:
            results.append(judged(lo, best, hi, []))
    found = total(name, results, hidden, unit, scale)
    if found["reason"] == "sources_disagree":
        found["doubted"] = [one(form, "quantity"), one(form, "with")]
    return found


def sources_agree(job, proc, rule, form):
    """A claim said by a person beside a measured quantity."""
    if "claim" not in form:
        return two_receivers(job, proc, rule, form)
    name, claim, limit = one(rule, "id"), one(form, "claim"), us(one(form, "within"))
    signal = one(form, "with")
    readings = [(t, v) for t, v, _ in job.samples(signal)]
    sd = job.sd(signal)
    held = job.held(signal, 2 * SECOND)
    jumps = []
    for (t0, v0), (t1, v1) in zip(readings, readings[1:]):
        if v0 is None or v1 is None:
            continue
        step = (v1 - v0) * (1 if claim.endswith(".on") else -1)
        if step > 0 and step * step > U * U * (sd(v0) ** 2 + sd(v1) ** 2):
            jumps.append(t1)
    claims = job.events(claim)
    hidden = not_freed(job, rule, event_hidden(job, claim))
    results = []
    for t, _ in claims:
        if freed(job, rule, t):
            continue
        best = max([limit - abs(j - t) for j in jumps], default=None)
        hi = best if best is not None else -1
        reasons = []
        if not readings:
            hi, reasons = None, ["no_data"]
        edge = job.start
        for a, b, v, _ in held + [(job.end, job.end, 0, None)]:
            if v is None:
                continue
            if a > edge and edge <= t + limit and a >= t - limit:
                hi = limit if readings else None
                reasons.append("no_data" if a < job.end else "cut_short")
            edge = max(edge, b)
        results.append(maybe_freed(job, rule, t, judged(best, best, hi, reasons)))
    found = total(name, results, hidden)
    if found["marginBest"] is None and found["marginHi"] == -1e-06:
        found["marginHi"] = None  # No jump at all: outside by an amount nobody knows.
    return found


def rule_set(job, proc, rule, rules, every, evaluate):
    """Worst of all that apply, best of any that apply."""
    name, parts = one(rule, "id"), []
    for part in rules:
        part = dict(part)
        for field in ("while_phase", "unless"):
            if field in rule:
                part[field] = rule[field]
        found = evaluate(part)
        parts += found if isinstance(found, list) else [found]
    parts = [p for p in parts if p["applies"] != "no"]
    if not parts:
        return finding(name, "no")
    order = ("deviated", "unproven", "met") if every else ("met", "unproven", "deviated")
    verdict = min((p["verdict"] for p in parts), key=order.index)
    some = [p for p in parts if p["verdict"] == verdict]
    some = [p for p in some if p["unit"] == some[0]["unit"]]
    shown = dict((min if every else max)(some, key=lambda p: -1e18 if p["marginBest"] is None else p["marginBest"]))
    shown["rule"] = name
    shown["applies"] = "yes" if any(p["applies"] == "yes" for p in parts) else "unknown"
    if verdict == "unproven":
        shown["reason"] = first_reason([p["reason"] for p in parts if p["verdict"] == "unproven"])
    return shown


TIMED = {"follows_within": follows_within, "wait_between": wait_between, "stays_until": stays_until,
         "never_together": never_together, "count_limit": count_limit, "sources_agree": sources_agree}
