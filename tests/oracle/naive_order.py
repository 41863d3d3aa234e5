"""Naive evaluator: comes_first and evidence_present."""

import copy
import math

from naive_rules import early, event_hidden, finding, first_reason, freeing, in_while, maybe_freed, maybe_outside, not_freed, one_before, worst
from naive_text import one, quantity


def apart(a, b):
    """(lo, best, hi) of b - a in us, or None where two clocks cannot be compared."""
    best = b.time - a.time
    if a.clock == b.clock and a.clock is not None:
        back = (a.u if getattr(a, "stepped", False) else 0) + (b.u if getattr(b, "stepped", False) else 0)
        return best - back - b.early, best, best + back + a.early
    # An offset ties a clock to the recorder's, whose own lines need no uncertainty then.
    tied = getattr(a, "shared", False) or getattr(b, "shared", False)
    if not tied and (a.wide is None or b.wide is None):
        return None
    square = math.ceil(a.u ** 2 + b.u ** 2)
    u = math.isqrt(square - 1) + 1 if square else 0  # whole us, outward
    return best - u - b.early, best, best + u + a.early


def may_follow(a, b, sooner=0):
    """Whether the clocks leave open that line a came after line b, or up to `sooner` before b."""
    span = apart(a, b)
    return span is None or span[0] - sooner < 0


def otherwise_by_clock(job, event, t, line, in_force):
    """Whether the edge that ended what is looked for may have come after t, or the one that ends it before t."""
    fact, way = event.rsplit(".", 1)
    end = fact + (".off" if way == "on" else ".on")
    ends = job.edges(end)
    if in_force:
        return any(may_follow(line, own, early(job, end, when)) for when, own in [e for e in ends if e[0] > t][:1])
    return any(may_follow(own, line) for when, own in [e for e in ends if e[0] <= t][-1:])


def unsure_since(job, chosen, others, last, then):
    """Whether the chosen first may belong to the `then` before, or another that only the clocks keep out may count."""
    if last is not None and chosen is not None:
        return may_follow(last[1], chosen[1])
    return chosen is None and last is not None and any(
        may_follow(own, last[1], early(job, then, last[0])) for when, own in others if when <= last[0])


def on_by(job, fact, t, line, sooner):
    """Whether the fact had been on at all up to the line at t, or up to `sooner` before it: True, False, or why nobody
    can say."""
    if job.fact(fact)[0][2] is True:
        return True
    reasons = ["no_data"] if any(a < b for a, b in job.unseen(fact, job.start, t + 1)) else []
    for when, own in job.edges(fact + ".on"):
        span, moved = apart(own, line), early(job, fact + ".on", when)  # on first seen after a gap may have come in it
        if span is not None and span[0] - sooner >= 0:
            return True
        if span is None or span[2] + moved >= 0:
            reasons.append("no_data" if moved or sooner else "clock_doubt")
    return first_reason(reasons) if reasons else False


def order_result(span, gap):
    """Verdict, reason and margins of one order that lies `span` apart."""
    if span is None:
        return "unproven", "clock_doubt", None, None, None
    lo, best, hi = (v - gap for v in span)
    verdict = "met" if lo >= 0 else "deviated" if hi < 0 else "unproven"
    return verdict, "clock_doubt" if verdict == "unproven" else "", lo, best, hi


def in_force_earlier(job, form, t):
    """Whether `then`, first seen at t after an unknown stretch, may have come while the first was in force."""
    first, moved = one(form, "first"), early(job, one(form, "then"), t)
    if not moved or not job.is_fact_event(first) or one(form, "ever") == "true":
        return False
    fact, way = first.rsplit(".", 1)
    return any(v is None or v is (way == "on") for a, b, v, _ in job.fact(fact) if a < t and b > t - moved)


def thens_of(job, proc, rule, then):
    """The events that the rule is about, and where more of them may hide."""
    thens, narrow = in_while(job, proc, rule, job.events(then))
    free = freeing(job, rule)
    return [e for e in thens if free is None or e[0] <= free], narrow(event_hidden(job, then))


def firsts_of(job, form, everything, t, line):
    """(firsts before that count, those after, why it is not known which count) of one `then`."""
    first, then = one(form, "first"), one(form, "then")
    # A momentary first lies between the last two `then`, judged or not.
    last = one_before(everything, t, line)
    if job.is_fact_event(first) and one(form, "ever") != "true":
        fact, way = first.rsplit(".", 1)
        spans, edges = job.fact(fact), job.edges(first)
        here = next((s for s in spans if s[0] <= t < s[1]), spans[-1])
        if here[2] is None:  # also where no word was said: it may have been in force from before
            return [], [], "no_data"
        held = here[2] is (way == "on")
        if otherwise_by_clock(job, first, t, line, held):
            return [], [], "by clock"
        prior = [e for e in edges if e[0] <= t]
        prior = prior if held and (way == "on" or prior) else []
        if way == "on" and held and not prior and spans[0][2] is True and spans[0] is here:
            prior = [(job.start, job.opened)]  # in force since the opening at least
        if way == "off" and held and not prior and job.unseen(fact, job.start, t):
            return [], [], "no_data"  # it may have been on in there
    else:
        edges = job.events(first)
        ever = one(form, "ever") == "true"
        floor = job.start - 1 if ever or last is None else last[0]
        prior = [e for e in edges if floor < e[0] <= t][:1]  # the earliest leaves the most time
        if not ever and unsure_since(job, prior[0] if prior else None, edges, last, then):
            return [], [], "clock_doubt"
        if not prior and any(h[0] < t and h[1] > floor for h in event_hidden(job, first)):
            return [], [], "no_data"
    if not prior and in_force_earlier(job, form, t):
        return [], [], "no_data"
    return prior, [e for e in edges if e[0] > t], ""


def comes_first(job, proc, rule, form):
    name, first, then = one(rule, "id"), one(form, "first"), one(form, "then")
    gap = quantity(one(form, "min_gap", "0 s"))[0]
    thens, hidden = thens_of(job, proc, rule, then)
    if first.endswith(".off") and job.is_fact_event(first) and thens:
        if not any(v is True for _, _, v, _ in job.fact(first[:-4])):
            # Never on as far as is known: with one filling of a gap the rule applies, with another not.
            unseen = not_freed(job, rule, job.unseen(first[:-4], job.start, job.end))
            return finding(name, "unknown", "unproven", "no_data", unit="s") if unseen else finding(name, "no")
    if not thens:
        if hidden:
            return finding(name, "unknown", "unproven", "no_data", unit="s", factor=10**6)
        return finding(name, "no")
    results, unsure = [], []
    everything = job.events(then)
    for t, line in thens:
        was_on = on_by(job, first[:-4], t, line, early(job, then, t)) if first.endswith(".off") and job.is_fact_event(first) else True
        if was_on is False:
            continue  # nobody could have put it off first
        prior, later, why = firsts_of(job, form, everything, t, line)
        if why == "by clock" and was_on is not True:
            unsure.append(was_on)
            continue
        if why:
            results.append(("unproven", "clock_doubt" if why == "by clock" else why, None, None, None))
            continue
        if prior or later:
            when, other = prior[-1] if prior else later[0]
            span = apart(other, line)
            if span is not None:  # an edge first seen after an unknown stretch may have been earlier
                span = span[0] - early(job, then, t), span[1], span[2] + early(job, first, when)
            result = order_result(span, gap)
        else:
            result = "deviated", "", None, None, None
        result = maybe_freed(job, rule, t, maybe_outside(job, proc, rule, t, result))
        if was_on is not True and result[0] == "deviated":
            unsure.append(was_on)  # it may be none that the rule is about
        else:
            results.append(result)
    why = first_reason(unsure + ["no_data"] * bool(hidden)) if unsure or hidden else ""
    if not results:
        return finding(name, "unknown", "unproven", why, unit="s") if why else finding(name, "no")
    return worst(name, results, why, "s", 10**6)


def evidence_present(job, proc, rule, form):
    name, before = one(rule, "id"), one(form, "before")
    everything = job.events(before or one(form, "after"))
    anchors, hidden = thens_of(job, proc, rule, before or one(form, "after"))
    if not anchors:
        return finding(name, "unknown", "unproven", "no_data", unit="items") if hidden else finding(name, "no")
    results = [maybe_freed(job, rule, t, maybe_outside(job, proc, rule, t, evidence_at(job, form, t, anchor))) for t, anchor in anchors]
    unseen = False
    for start, stop in [] if before else hidden:  # an anchor that nobody saw, as late as it can have been
        late = copy.copy(everything[0][1])
        late.time, late.early, late.stepped = stop, 0, False
        unseen = unseen or start < job.end and evidence_at(job, form, stop, late, True)[0] != "met"
    return worst(name, results, unseen, "items", 1)


def evidence_at(job, form, t, anchor, alone=False):
    """(verdict, reason, lo, best, hi) of one anchor."""
    before = one(form, "before")
    earlier = [] if alone else [h[0] for h in event_hidden(job, before or one(form, "after")) if h[0] < t]
    sooner = 0 if alone else early(job, before or one(form, "after"), t)
    sure = maybe = seen = 0
    doubt = moved = False
    each_once = len(form["item"]) >= int(one(form, "at_least"))
    for item in form["item"]:
        hits = []
        for _, line in job.events(item):
            span = apart(line, anchor) if before else apart(anchor, line)
            word = "doubt" if span is None else "in" if span[0] >= 0 else "out" if span[2] < 0 else "doubt"
            if earlier and before and word == "in" and line.time > min(earlier):
                # Than a hidden anchor may have come; of the one seen it is before, unless that may have been in the gap itself.
                word = "later" if line.time <= t - sooner else "moved"
            if not before and word == "out" and span[2] + sooner >= 0:
                word = "moved"  # the anchor was first seen after a gap, and may have come in it
            hits.append(word)
        found, able, beside = hits.count("in"), len(hits) - hits.count("out"), hits.count("in") + hits.count("later")
        # With as many kinds named as items wanted, each kind counts once.
        sure += min(found, 1) if each_once else found
        maybe += min(able, 1) if each_once else able
        seen += min(beside, 1) if each_once else beside
        moved = moved or any(h in hits for h in ("moved", "later")) and not (each_once and found)
        doubt = doubt or "doubt" in hits and not (each_once and found)
    need = int(one(form, "at_least"))
    if sure >= need:
        return "met", "", seen - need, seen - need, maybe - need
    gaps = [g for source, found in job.gaps.items() for g in found
            if source in item_sources(job, form) and (g[0] < t if before else (g[1] or job.end) > t)]
    reasons = (["no_data"] if gaps or moved and maybe >= need else []) + (["clock_doubt"] if doubt and maybe >= need else [])
    if reasons:
        return "unproven", first_reason(reasons), seen - need, seen - need, None if gaps else maybe - need
    return "deviated", "", seen - need, seen - need, maybe - need


def item_sources(job, form):
    found = {l.source for item in form["item"] for _, l in job.events(item)} or {"operator"}
    if any(item.startswith("photo") for item in form["item"]):  # who takes one picture may have taken any
        found |= {l.source for l in job.lines if l.kind in ("photo", "film")}
    return found | job.people()
