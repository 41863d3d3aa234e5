"""Facts of the naive evaluator as lists of spans (start, end, value, line): cut, merged, settled, combined."""

import copy

SETTLE = 500_000  # a change that does not last 500 ms is none


def blank(spans, start, stop):
    return lay(spans, (start, stop, None, None))


def lay(spans, new):
    if new[0] >= new[1]:
        return spans
    out = []
    for a, b, v, line in spans:
        if b <= new[0] or a >= new[1]:
            out.append((a, b, v, line))
            continue
        if a < new[0]:
            out.append((a, new[0], v, line))
        if b > new[1]:
            out.append((new[1], b, v, line))
    out.append(new)
    return sorted(out, key=lambda s: s[0])


def step(line):
    """How far its clock had stepped back."""
    return getattr(line, "step", 0)


def merge(spans):
    out = []
    for i, span in enumerate(spans):
        # What a clock that stepped back shows as no time at all may have been some.
        if span[0] >= span[1] and not step(span[3]) and not (i + 1 < len(spans) and step(spans[i + 1][3])):
            continue
        if out and out[-1][2] == span[2] and not in_doubt(span[3]):
            out[-1] = (out[-1][0], span[1], out[-1][2], out[-1][3])
        else:
            out.append(span)
    return out


def doubted(line):
    """The line of a first change of which nobody can say whether it lasted: since it, the fact is named."""
    mark = copy.copy(line)
    mark.doubt = True
    return mark


def in_doubt(line):
    return getattr(line, "doubt", False)


def lasts(spans, i):
    """Whether the value of a known span lasts: True, False, or None where nobody can say."""
    if i + 1 == len(spans):
        return True
    slack = step(spans[i][3]) + step(spans[i + 1][3])
    length = spans[i][1] - spans[i][0]
    return True if length - slack >= SETTLE else None if length + slack >= SETTLE else False


def settle(spans):
    """A change that does not last 500 ms is none; one that lasts is dated at its first edge.

    Where that is not known (a gap follows at once, or a clock stepped back meanwhile) the fact is unknown from that edge on.
    """
    out, run = [], []  # run: what did not last since the last that did
    for i, span in enumerate(spans):
        a, b, value, line = span
        if i == 0:
            out.append(span)
            continue
        steady, steps = out[-1][2], lasts(spans, i) if value is not None else None
        if steps is False:
            run.append(span)
            continue
        if steps is None:
            left = next((s for s in run + [span] if s[2] is not steady), span)
            if left[2] is not steady or value is None:
                unsure = left[2] is not None and steady is None and len(out) == 1
                out.append((left[0], b, None, doubted(left[3]) if unsure else left[3] if value is None and not run else None))
        elif value is not steady:
            first = next(s for s in run + [span] if s[2] is value)
            late = step(first[3]) if steady is None and len(out) > 1 else 0
            out.append((first[0] + late, b, value, first[3]))
        run = []
    # Each lasts until the next begins.
    starts = [s[0] for s in out[1:]] + [spans[-1][1]]
    return merge([(s[0], stop, s[2], s[3]) for s, stop in zip(out, starts)])


def first_known(spans, value):
    out, seen = [], False
    for a, b, v, line in spans:
        seen = seen or v is not None
        out.append((a, b, v if seen else value, line))
    return merge(out)


def combine(left, right, rule):
    cuts = sorted({t for s in left + right for t in s[:2]})
    out = []
    for a, b in zip(cuts, cuts[1:]):
        l = next((s for s in left if s[0] <= a < s[1]), (a, b, None, None))
        r = next((s for s in right if s[0] <= a < s[1]), (a, b, None, None))
        starter = l if l[0] == a and l[3] is not None else r if r[0] == a and r[3] is not None else l if l[3] is not None else r
        out.append((a, b, rule(l[2], r[2]), starter[3]))
    return merge(out)


def both(left, right):
    return combine(left, right, lambda x, y: False if x is False or y is False else None if None in (x, y) else True)


def either(left, right):
    return combine(left, right, lambda x, y: True if x is True or y is True else None if None in (x, y) else False)


def negate(spans):
    return [(a, b, None if v is None else not v, line) for a, b, v, line in spans]


def either_of(facts, job):
    out = [(job.start, job.end, False, None)]
    for fact in facts:
        out = either(out, fact)
    return out


def value_at(spans, t):
    for a, b, v, line in spans:
        if a <= t < b:
            return v
    return spans[-1][2] if spans else None
