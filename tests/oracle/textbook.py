"""A third evaluator, for margins: past-time formulas and discrete robustness by textbook recursion.

Every signal is a list, one value a tick of 50 ms, over the whole job; every formula is one pass over
those lists. It knows jobs in which nothing is missing, clocks agree and changes last, and says nothing
of uncertainty: what it gives is held against marginBest, and the verdict where that is decided.

    comes_first     H(B -> A in force since g), the largest g that holds
    follows_within  H(O[T,T] A -> O[0,T] B), the least T that holds
    limit_in_phase  the least of limit - mean over the phase's bins (robustness of G(P -> mean <= L))
    never_together  tolerance less the longest run of both (robustness of H not(both for > d))
    recheck_every   H(P -> O[0,T](check or start)) on a clock that stops while the truck stands
"""

import json
from fractions import Fraction

from naive_text import micros, one, parse_text, quantity

TICK = 50_000  # us
SECOND = 10**6


class Signals:
    def __init__(self, lines):
        self.rows = sorted((json.loads(line) for line in lines), key=lambda row: row["time"])
        start = next(row for row in self.rows if "opened" in row)
        stop = next(row for row in self.rows if "closed" in row or "abandoned" in row)
        self.start = micros(start["time"])
        self.count = (micros(stop["time"]) - self.start) // TICK
        self.rows = [row for row in self.rows if micros(row["time"]) <= micros(stop["time"])]

    def tick(self, row):
        return (micros(row["time"]) - self.start) // TICK

    def state(self, kind, value_of, initial):
        out, now = [initial] * (self.count + 1), initial
        at = {self.tick(row): value_of(row[kind]) for row in self.rows if kind in row and value_of(row[kind]) is not None}
        for i in range(self.count + 1):
            now = at.get(i, now)
            out[i] = now
        return out

    def moments(self, kind):
        out = [False] * (self.count + 1)
        for row in self.rows:
            if kind in row:
                out[self.tick(row)] = True
        return out

    def fact(self, name):
        if name in ("clamp.positive", "clamp.negative"):
            lead = name[6:].upper()
            return self.state("clamp", lambda c: c["on"] if c["lead"] == lead else None, False)
        kind, field, initial = {"scene.set": ("scene", "set", False), "screen.awake": ("screen", "awake", None),
                                "drive.ready": ("driveReady", "confirmed", None)}[name]
        return self.state(kind, lambda body: body[field], initial)

    def event(self, name):
        if name in ("arrived", "secured.checked"):
            return self.moments(name.split(".")[0])
        fact, way = name.rsplit(".", 1)
        values = self.fact(fact)
        before = [values[0] if values[0] is not None else False] + values[:-1]
        if way == "on":
            return [now is True and was is not True for was, now in zip(before, values)]
        return [now is False and was is True for was, now in zip(before, values)]


def past(values, length):
    """O[0,length] values."""
    out, since = [], None
    for value in values:
        since = 0 if value else None if since is None else since + 1
        out.append(since is not None and since <= length)
    return out


def ago(values, length):
    """O[length,length] values."""
    return [False] * min(length, len(values)) + values[:len(values) - length]


def held(values, length):
    """The value has been in force for `length` ticks and is now."""
    out, since = [], None
    for value in values:
        since = None if value is not True else 0 if since is None else since + 1
        out.append(since is not None and since >= length)
    return out


def implied(left, right):
    return all(b for a, b in zip(left, right) if a)


def bisect(low, high, holds):
    """Least n of low..high with holds(n), where it holds from some n on; None."""
    if not holds(high):
        return None
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle + 1, high)
    return low


def comes_first(signals, form):
    first, then = one(form, "first"), signals.event(one(form, "then"))
    fact, way = first.rsplit(".", 1)
    values = signals.fact(fact)
    if None in [v for v, b in zip(values, then) if b]:
        return None  # never said: unknown, which this does not know
    if way == "off":
        ever = past([v is True for v in values], len(values))
        then = [b and e for b, e in zip(then, ever)]
        values = [v is False for v in values]
    if not any(then):
        return None
    gap = quantity(one(form, "min_gap", "0 s"))[0]
    least = bisect(0, len(values), lambda n: not implied(then, held(values, n)))
    if least == 0:
        return ("deviated",)
    margin = (least - 1) * TICK - gap
    return ("met" if margin >= 0 else "deviated", margin / SECOND)


def follows_within(signals, form):
    after, then = signals.event(one(form, "after")), signals.event(one(form, "then"))
    within = quantity(one(form, "within"))[0] // TICK
    if not any(after):
        return None
    answered = [any(then[i:]) for i, a in enumerate(after) if a]
    if not all(answered):
        late = [i for i, a in enumerate(after) if a and not any(then[i:]) and i + within < signals.count]
        return ("deviated",) if late else None
    least = bisect(0, signals.count + 1, lambda n: implied(ago(after, n), past(then, n)))
    margin = Fraction((within - least) * TICK, SECOND)
    return ("met" if margin >= 0 else "deviated", float(margin))


def never_together(signals, form):
    a, b = signals.fact(one(form, "state")), signals.fact(one(form, "with"))
    if True not in a or True not in b:
        return None
    run = longest = 0
    for x, y in zip(a[:-1], b[:-1]):
        run = run + 1 if x is True and y is True else 0
        longest = max(longest, run)
    tolerate = quantity(one(form, "tolerate"))[0]
    if longest == 0:
        return ("met",)
    margin = tolerate - longest * TICK
    return ("met" if margin >= 0 else "deviated", margin / SECOND)


def recheck_every(signals, form):
    inside, check = signals.fact("scene.set"), signals.event(one(form, "check"))
    moving = signals.state("truckMotion", lambda body: body["moving"], None)
    usual = quantity(one(form, "time"))[0]
    limit, gone, worst = None, 0, None
    for i in range(signals.count):
        if inside[i] and (i == 0 or not inside[i - 1]):
            limit, gone = quantity(one(form, "first_time", one(form, "time")))[0], 0
        elif inside[i] and check[i]:  # before the truck has moved at all it is one at the start
            limit, gone = limit if gone == 0 else usual, 0
        if not inside[i]:
            continue
        gone += TICK if moving[i] is not False or one(form, "parked_counts") == "true" else 0
        margin = (limit - gone) / limit, (limit - gone) / SECOND
        worst = margin if worst is None or margin[0] < worst[0] else worst
    return None if worst is None else ("met" if worst[0] >= 0 else "deviated", float(worst[1]))


def limit_in_phase(signals, form, procedure):
    if one(form, "quantity") == "vehicle.speed":
        inside = signals.state("vehicleMode", lambda body: body["mode"] == "ROLLING", False)
        values = signals.state("fix", lambda body: int(body["speedMps"] * 1000 + 0.5), None)
        reach = quantity(one(form, "longest_gap"))[0] // TICK
        age, found = 0, signals.moments("fix")
        for i in range(signals.count + 1):
            age = 0 if found[i] else age + 1
            if age >= reach:
                values[i] = None
    else:
        return None
    word = next(k for k in ("under", "at_most") if k in form)
    limit = int(quantity(one(form, word))[0] + Fraction(1, 2))
    length = quantity(one(form, "sustained"))[0] // TICK
    least = None
    for i in range(signals.count):
        if inside[i] and (i == 0 or not inside[i - 1]):
            stop = next(j for j in range(i, signals.count + 1) if j == signals.count or not inside[j])
            for base in (i, i + length // 2):
                for begin in range(base, stop, length):
                    part = [v for v in values[begin:min(begin + length, stop)] if v is not None]
                    if 2 * len(part) >= length:
                        mean = Fraction(sum(part), len(part))
                        least = limit - mean if least is None else min(least, limit - mean)
    return None if least is None else ("", float(least / quantity("1 " + quantity(one(form, word))[1])[0]))


FORMS = {"comes_first": comes_first, "follows_within": follows_within, "never_together": never_together,
         "recheck_every": recheck_every}


def check(lines, procedure, findings):
    """(how many findings were compared, [words])."""
    signals, wrong, compared = Signals(lines), [], 0
    proc = parse_text(procedure)
    for rule, found in zip(proc["rule"], findings):
        form = next((k for k in rule if k in FORMS or k == "limit_in_phase"), None)
        if form is None or one(rule, "unless") or found["applies"] != "yes":
            continue
        told = limit_in_phase(signals, one(rule, form), proc) if form == "limit_in_phase" else FORMS[form](signals, one(rule, form))
        if told is None:
            continue
        compared += 1
        if told[0] and found["verdict"] in ("met", "deviated") and told[0] != found["verdict"]:
            wrong.append(f"textbook {form} {found['rule']}: program {found['verdict']}, by recursion {told[0]}")
        if len(told) > 1 and found["marginBest"] is not None and not (form == "comes_first" and told[0] != found["verdict"]):
            if abs(told[1] - found["marginBest"]) > (0.0041 if form == "limit_in_phase" else 0.0501):
                wrong.append(f"textbook {form} {found['rule']}: program {found['marginBest']}, by recursion {told[1]}")
    return compared, wrong
