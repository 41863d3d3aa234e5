"""Naive evaluator: recheck_every."""

from naive_rules import early, first_reason, freeing, gaps_hiding, not_freed, rule_phases
from naive_text import one, quantity
from naive_timed import driven, freed, hidden_openings, judged, total


def most_lenient(form, field):
    """The longer of the two limits a later leg may have; None where there is no usual one."""
    usual, first = one(form, field), one(form, "first_" + field)
    return None if usual is None else max(quantity(text)[0] for text in (usual, first or usual))


def leg_until(a, b, limit, after, unsure, measure, gaps):
    """The verdict on a leg from a to b; `after`: the most lenient limit of a later one, as this may be if `unsure`."""
    lo, best, hi, why = measure(a, b)
    reasons = [why] if why else []
    allowed = after if unsure else limit
    reasons += ["no_data"] * bool(unsure)
    margin = [limit - hi, limit - best, None if allowed is None else allowed - lo]
    cuts = sorted(g for g in gaps if g[1] > a and g[0] < b)
    if cuts:
        reasons.append("no_data")
        parts, at, first_allowed = [], a, allowed
        for g in cuts:
            if allowed is not None:
                parts.append(allowed - measure(at, max(g[0], at))[0])
            at, allowed = max(at, min(g[1], b)), after
        if allowed is not None:
            parts.append(allowed - measure(at, b)[0])
        margin[2] = None if first_allowed is None else max(min(parts), margin[1])
    return judged(*margin, reasons)


def recheck_every(job, proc, rule, form):
    name = one(rule, "id")
    phase, spans, hidden, _ = rule_phases(job, proc, dict(rule, unless=[None]), one(form, "phase"))
    opens = one(phase, "opens")
    hidden = hidden_openings(job, proc, rule, opens, hidden)
    counts = one(form, "parked_counts") == "true"
    # A hidden check, or an end of the phase (or the outer one) and its next start, would cut a leg.
    openers = [one(p, "opens") for p in proc["phase"] if one(p, "id") in (one(form, "phase"), one(rule, "while_phase"))]
    closes = [one(p, "closes") for p in proc["phase"] if one(p, "id") in (one(form, "phase"), one(rule, "while_phase"))]
    gaps = [g for name in [one(form, "check")] + closes for g in not_freed(job, rule, gaps_hiding(job, name))]

    def gone(a, b, longer):
        """(lo, best, hi) of the time from a to b without what the truck stood, and why something of it is not known."""
        still = sum(max(0, min(b, q) - max(a, p)) for p, q, v, _ in job.fact("truck.moving") if v is False)
        unknown = sum(max(0, min(b, q) - max(a, p)) for p, q, v, _ in job.fact("truck.moving") if v is None)
        if counts:
            still = unknown = 0
        return max(0, b - a - still - unknown), b - a - still, b - a - still + longer, "no_data" if unknown or longer else ""

    def stood(a, b):
        return all(v is False for p, q, v, _ in job.fact("truck.moving") if p < b and q > a)

    results = []
    for start, stop in spans:
        sooner = max(early(job, name, start) for name in openers)
        checks = [t for t, _ in job.events(one(form, "check")) if start <= t < stop]
        marks = [start] + checks + [stop]
        moved = next((t for t in checks if counts or not stood(start, t)), stop)
        for i, (a, leg_end) in enumerate(zip(marks, marks[1:])):
            for field, measure in (("distance", lambda p, q: driven(job, p, q)), ("time", lambda p, q: gone(p, q, sooner if p == start else 0))):
                usual = one(form, field)
                # A check before the truck has moved at all is one at the start.
                text = one(form, "first_" + field, usual) if i == 0 or a < moved else usual
                if text is None:
                    continue
                (limit, unit), after = quantity(text), most_lenient(form, field)
                b, free = leg_end, freed(job, rule, leg_end)
                if free:  # what was outside before that, or may have been, stays judged
                    b = freeing(job, rule)
                    if b <= a:
                        continue
                unsure = (i == 0 or a < moved) and one(form, "first_" + field) and sooner  # it may be a later leg
                until = lambda stop: leg_until(a, stop, limit, after, unsure, measure, gaps)
                result = until(b)
                # An `unless` that nobody saw frees the leg, unless it was outside already where that may have been.
                ways_out = [h[0] for h in gaps_hiding(job, one(rule, "unless")) if h[0] < b] \
                    if one(rule, "unless") not in (None, "abandoned", "closed") else []
                if result[0] == "deviated" and ways_out:
                    before = until(min(ways_out)) if min(ways_out) > a else ("unproven",)
                    result = result[:4] + before[4:] if before[0] == "deviated" else ("unproven", "no_data") + result[2:4] + (None,)
                if not (free and result[0] == "met"):
                    results.append((result, limit, unit))
    if not results:
        return total(name, [], hidden)
    order = ("deviated", "unproven", "met")
    shown, _, unit = min(results, key=lambda r: (order.index(r[0][0]), r[0][3] / r[1]))
    if shown[0] == "unproven":
        shown = (shown[0], first_reason([r[0][1] for r in results if r[0][0] == "unproven"])) + shown[2:]
    return total(name, [shown], hidden, unit, quantity("1 " + unit)[0])
