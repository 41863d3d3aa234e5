"""Naive evaluator: limit_in_phase."""

import math
from fractions import Fraction
from statistics import NormalDist

from naive_facts import G, HOLD, U, both, is_person, merge, value_at
from naive_rules import Skipped, clip, clock_width, ends_of, finding, first_reason, less, outward, rule_phases
from naive_strength import day_of, holds, rating
from naive_text import RESOLUTION, UNITS, one, quantity


class Along(int):
    """A component along the way (mm/s) of a reading `most` long: further out than it says, never further than its length."""

    def __new__(cls, value, most):
        self = super().__new__(cls, value)
        self.ends = (value, max(value, most)) if value >= 0 else (min(value, -most), value)
        return self


def ends_at(value):
    return getattr(value, "ends", (value, value))


def tag_fixes(job):
    return [l for l in job.lines if l.kind == "fix" and l.source == "gps.tag" and l.good and l.body["mode"] >= 2]


def along_way(job, line, fixes):
    """Signed, along the mean of the readings within 5 s either side; None with fewer than three, or where they cancel."""
    if "courseDeg" not in line.body or not line.good or line.body["mode"] < 2:
        return None
    near = [l for l in fixes if "courseDeg" in l.body and abs(l.time - line.time) <= 5_000_000]
    vectors = [(l.body["speedMps"] * math.sin(math.radians(l.body["courseDeg"])),
                l.body["speedMps"] * math.cos(math.radians(l.body["courseDeg"]))) for l in near]
    east, north = sum(v[0] for v in vectors), sum(v[1] for v in vectors)
    if len(near) < 3 or math.hypot(east, north) < 1e-9:
        return None
    own = vectors[near.index(line)]
    along = (own[0] * east + own[1] * north) / math.hypot(east, north)
    return Along(math.floor(along * 1000 + 0.5), math.floor(line.body["speedMps"] * 1000 + 0.5))


def scatter_at_rest(job, first, last):
    """s.d. per axis (mm/s) of the tag's speed readings where nothing moves the car, up to 300 s either side; 0 with fewer than ten."""
    facts = [job.fact("truck.moving"), job.fact("rolling")] + [
        job.unnamed_false(name) for name in ("line.pulling", "deck.moving", "mode.drive", "mode.reverse")]
    if any(l.kind == "wheels" and l.body["on"] in ("SKATE", "DOLLY") for l in job.lines):
        raise Skipped("a car on skates beside its tag's speed")
    rest = [(job.start, job.end, True, None)]
    for fact in facts:
        rest = both(rest, [(a, b, v is False, l) for a, b, v, l in fact])
    squares = []
    for a, b, v, _ in merge(rest):
        late = b - 3_000_000 if b < job.end else b
        squares += [math.floor(l.body["speedMps"] * 1000 + 0.5) ** 2 for l in tag_fixes(job)
                    if v and a + 3_000_000 <= l.time <= late and abs(2 * l.time - first - last) <= last - first + 600_000_000
                    and l.body["speedMps"] != 0]
    return Fraction(root_up(Fraction(sum(squares) * 10**6, 2 * len(squares))), 1000) if len(squares) >= 10 else 0


def no_surer(job, spans, first, last):
    """Than its readings at rest are."""
    seen = scatter_at_rest(job, first, last)
    return [(a, b, v, max(sd, seen)) for a, b, v, sd in spans]


def ends_of_mean(what, mean, parts, covered, sign):
    """The mean, and its ends towards what accuses and what clears (a limit from below: the other way round)."""
    least, most = (sum(Fraction(ends_at(v)[i]) * (d - c) for c, d, v, _ in parts) / covered for i in (0, 1))
    if what == "vehicle.speed" and mean < 0:  # backwards is as fast
        mean, least, most = -mean, -most, -least
    return (mean, least, most) if sign > 0 else (mean, most, least)


def speed_samples(job):
    """[(from, until, value, sd, line time)]: a fix holds; rope speed covers the two samples it joins."""
    fixes = [l for l in job.lines if l.kind == "fix" and l.source == "gps.tag"]
    if fixes and not job.samples("line.out"):  # the rope where both are there: it is the tighter
        text = one(job.sensor("vehicle.speed"), "sd")
        out, good = [], tag_fixes(job)
        for i, line in enumerate(fixes):
            value = along_way(job, line, good)
            value = math.floor(line.body["speedMps"] / 0.001 + 0.5) if value is None else value
            sd = quantity(text)[0] if text else Fraction(str(line.body.get("speedSdMps", 0.2))) * 1000
            stop = fixes[i + 1].time if i + 1 < len(fixes) else job.end
            out.append((line.time, stop, value if line.good else None, sd))
        return out
    rope = job.samples("line.out")
    sd = job.sd("vehicle.speed")
    out = []
    for (t0, v0, _), (t1, v1, _) in zip(rope, rope[1:]):
        speed = None if v0 is None or v1 is None else math.floor(Fraction(abs(v1 - v0) * 10**6, t1 - t0) + Fraction(1, 2))
        out.append((t0, t1, speed, sd(speed or 0)))
    return out


def quantity_spans(job, name, hold):
    """[(start, end, value or None, sd)] over the job."""
    if name == "vehicle.speed":
        spans = speed_samples(job)
    elif name in ("line.pull", "line.leg_pull", "clamp.volts") or name.startswith("deck.accel_"):
        signal = "line.pull" if name == "line.leg_pull" else name
        found, sd = job.samples(signal), job.sd(signal)
        spans = [(t, found[i + 1][0] if i + 1 < len(found) else job.end, v, sd(v or 0)) for i, (t, v, _) in enumerate(found)]
    elif name == "rigging.legs_angle":
        found = [(l.time, math.floor(l.body["legsAngleDeg"] * 1000 + 0.5)) for l in job.lines
                 if l.kind == "rigging" and l.body["on"] and "legsAngleDeg" in l.body]
        sd = job.sd(name)
        spans = [(t, found[i + 1][0] if i + 1 < len(found) else job.end, v, sd(v)) for i, (t, v) in enumerate(found)]
        for lost, until in lost_words(job):  # a lost line may have said another angle
            again = min([t for t, _ in found if until is not None and t >= until], default=job.end)
            spans = [x for y in spans for x in cut_out(y, lost + 1, again)]
        return spans
    else:
        raise Skipped(name)
    out = []
    for a, b, v, sd in spans:
        good = min(b, a + hold)
        if v is None or name == "vehicle.speed" and job.samples("line.out") and b - a > hold:
            continue  # between two readings of the rope that lie further apart nobody knows how fast it ran when
        out.append((a, good, v, sd))
    # A lost sample is bridged like any hole within the longest one; a source said to be in doubt is not.
    for source, when in job.broken.items():
        if source in {l.source for l in job.lines if l.kind in ("sample", "fix")}:
            out = [x for y in out for x in cut_out(y, when, job.end)]
    if name == "line.leg_pull":
        angle = quantity_spans(job, "rigging.legs_angle", hold)
        turned = []
        for a, b, v, sd in out:
            deg = next((x[2] for x in angle if x[0] <= a < x[1]), None)
            if deg is None:
                continue
            scale = 1 / (2 * math.cos(math.radians(deg / 2000)))
            turned.append((a, b, Fraction(v * scale), Fraction(float(sd) * scale)))
        return turned
    return out


def lost_words(job):
    return [gap for source in job.people() for gap in job.gaps.get(source, [])]


def angle_lost(job, what, t):
    """Whether the angle that this takes is unknown just before t because a line of a person's is lost."""
    said = max([l.time for l in job.lines if l.kind == "rigging" and l.body["on"] and "legsAngleDeg" in l.body and l.time < t],
               default=None)
    return what in ("line.leg_pull", "rigging.legs_angle") and said is not None and any(
        a < t and (b is None or said < b) for a, b in lost_words(job))


def root_up(square):
    """Least whole number whose square is not below."""
    root = math.isqrt(math.floor(square))
    return root if root * root >= square else root + 1


def cut_out(span, start, stop):
    a, b, v, sd = span
    return [s for s in ((a, min(b, start), v, sd), (max(a, stop), b, v, sd)) if s[0] < s[1]]


def limit_at(job, text, word):
    """function of time -> (lo, best, hi) in the stored unit, or None; unit word. `under` takes what is no whole unit up."""
    parts = [p.strip() for p in text.split(" or ")]
    for part in parts:
        if part[:1].isdigit() or part[:1] == "-":
            value, unit = quantity(part)
            value = Fraction(math.ceil(value) if word == "under" else math.floor(value + Fraction(1, 2)))
            return (lambda t: (value, value, value)), unit
        owner, _, field = part.partition(".")
        if owner == "vehicle" and one(job.vehicle(), field):
            value, unit = quantity(one(job.vehicle(), field))
            value = Fraction(math.ceil(value) if word == "under" else math.floor(value + Fraction(1, 2)))
            return (lambda t: (value, value, value)), unit
        if part in ("line.free_roll", "line.rating", "line.layer", "point.rating"):
            return (lambda t, part=part: named_limit(job, part, t)), "kN"
    return (lambda t: None), ""


def named_limit(job, name, t):
    if name == "line.free_roll":
        tilts = [(a, v) for a, v, _ in job.samples("deck.tilt") if a <= t]
        if all(is_person(l.source) for _, _, l in job.samples("deck.tilt")) and any(
                a < t and (not tilts or b is None or tilts[-1][0] < b) for a, b in lost_words(job)):
            return None
        if not tilts or job.mass() is None:
            return None
        u = U * job.sd("deck.tilt")(0)
        out = []
        for mass, tilt in zip(job.mass(), (tilts[-1][1] - u, tilts[-1][1], tilts[-1][1] + u)):
            rad = math.radians(float(tilt) / 1000)
            out.append(Fraction(float(mass * G) / 1000 * (math.sin(rad) + 0.15 * math.cos(rad))))
        found = [l for l in job.lines if l.kind == "found" and l.time <= t]
        if found and found[-1].body["surface"] in ("ICE", "SNOW"):
            out[0] = None  # locked wheels slide as easily there
        return tuple(out)
    winch = one(job.truck(), "winch", {})
    rigged = [l for l in job.lines if l.kind == "rigging" and l.time <= t and value_at(job.fact("rigging:" + l.body["point"]), t)]
    # A lost line of a person's may have changed the rigging since it was last said.
    said = max((l.time for l in job.lines if l.kind == "rigging" and l.time <= t), default=-math.inf)
    other = any(a < t and (b is None or b > said) for a, b in lost_words(job))
    if name in ("point.rating", "line.rating"):
        rigged = [l for l in job.lines if l.kind == "rigging" and l.time <= t]
        last = {l.body["point"]: l for l in rigged}
        rigged = [l for l in last.values() if l.body["on"]]
    if name == "point.rating":
        points = {one(p, "id"): p for p in job.vehicle().get("point", [])}
        rates = [one(points.get(l.body["point"], {}), "rating") for l in rigged if l.body["on"]]
        if not rates or None in rates:
            return None
        value = min(quantity(r)[0] for r in rates)
        return (None, value, None) if other else (value, value, value)
    if name == "line.rating":
        own = quantity(one(winch, "line_rating"))[0] if one(winch, "line_rating") else None
        read, most, used = [own] * (own is not None), [own] * (own is not None), True
        gears = [gear for line in rigged for gear in line.body["gear"]]
        unread = own is None  # what nobody rated may be the weakest
        for gear in gears:
            low, high = rating(job, job.gear(gear), day_of(t))
            used = used and holds(job.gear(gear), day_of(t)) is not False
            unread = unread or not low
            read += [low * G / 1000] * bool(low)
            most += [] if high is None else [high * G / 1000]
        if not used:  # nothing that counts holds the line
            read, most, unread = [Fraction(0)], [Fraction(0)], False
        best = min(read + most, default=None)
        best = None if best is None else math.floor(best + Fraction(1, 2))
        if other:
            return None, best, own
        low = None if unread else math.floor(min(read))
        return low, best, math.ceil(min(most)) if most else None  # whole newtons, outward
    layers = sorted((int(one(l, "number")), quantity(one(l, "pull"))[0], quantity(one(l, "length"))[0]) for l in winch["layer"])
    rope = quantity(one(winch, "rope_length"))[0] if one(winch, "rope_length") else layers[-1][2]
    spans = [s for s in job.held("line.out", HOLD["line.out"]) if s[0] <= t < s[1] and s[2] is not None]
    if not spans:
        pulls = [p for _, p, _ in layers]
        return min(pulls), min(pulls), max(pulls)

    def pull(out):
        on_drum = rope - out
        return next((p for _, p, length in layers if on_drum <= length), layers[-1][1])
    u = U * job.sd("line.out")(0)
    out = spans[0][2]
    return pull(out - u), pull(out), pull(out + u)


LONGEST_HOLE = {"vehicle.speed": "3 s", "clamp.volts": "2 s", "deck.accel_x": "1 s", "deck.accel_y": "1 s", "deck.accel_z": "1 s"}


def reading_lines(job, what):
    """Lines of the sources a quantity is read from."""
    signal = {"line.leg_pull": "line.pull", "rigging.legs_angle": ""}.get(what, what)
    found = {l.source for _, _, l in job.samples(signal)} if signal in RESOLUTION else set()
    if what in ("vehicle.speed", "vehicle.rolled"):
        found |= {l.source for _, _, l in job.samples("line.out")}
        found |= {l.source for l in job.lines if l.kind == "fix" and l.source == "gps.tag"}
    return [l for l in job.lines if l.kind in ("fix", "sample") and l.source in found]


def beyond(margin, word):
    """`under` excludes the limit itself: a margin of 0 is outside there."""
    return margin <= 0 if word == "under" else margin < 0


def limit_finding(rule, word, margins, unplaced, why):
    """The finding from the worst margins and what keeps a met, or the reason, back."""
    name, unit, factor = rule
    lo, best, hi = outward(*margins)
    within = lo > 0 if word == "under" else lo >= 0
    if unplaced:
        return finding(name, "yes", "unproven", "no_data" if why["no_data"] else "clock_doubt", best, None, None, unit, factor)
    reasons = ["no_data"] * bool(why["no_data"] or why["hidden end"] and not within) + \
        ["too_close"] * (not within and not why["blurred"]) + ["clock_doubt"] * why["clock_doubt"] + ["cut_short"] * why["cut_short"]
    verdict = "deviated" if hi is not None and beyond(hi, word) else "unproven" if reasons else "met"
    return finding(name, "yes", verdict, first_reason(reasons) if verdict == "unproven" else "", best, lo, hi, unit, factor)


def limit_in_phase(job, proc, rule, form):
    """The worst of the phase's stays, each judged for itself; another that may hide keeps a met back."""
    name = one(rule, "id")
    phase, spans, hidden, doubt = rule_phases(job, proc, rule, one(form, "phase"))
    if not spans:
        word = next(k for k in ("under", "at_most", "at_least") if k in form)
        unit = limit_at(job, one(form, word), word)[1]
        return finding(name, "unknown", "unproven", "no_data", unit=unit) if hidden else finding(name, "no")
    found = [limit_in_stay(job, proc, rule, form, phase, [span], hidden if i == 0 else [], doubt) for i, span in enumerate(spans)]
    rank = ("deviated", "unproven", "met")
    shown = min(found, key=lambda f: (rank.index(f["verdict"]), f["marginBest"] is not None, f["marginBest"] or 0))
    if shown["verdict"] == "unproven":
        shown = dict(shown, reason=first_reason([f["reason"] for f in found if f["verdict"] == "unproven"]))
    return shown


def limit_in_stay(job, proc, rule, form, phase, spans, hidden, doubt):
    name, what = one(rule, "id"), one(form, "quantity")
    word = next(k for k in ("under", "at_most", "at_least") if k in form)
    limit, unit = limit_at(job, one(form, word), word)
    factor = UNIT_FACTOR[unit]
    length = int(quantity(one(form, "sustained"))[0])
    hold = int(quantity(one(form, "longest_gap", LONGEST_HOLE.get(what, "5 s")))[0])
    tau = float(job.tau(what if what != "line.leg_pull" else "line.pull"))
    longest = float(quantity(one(phase, "longest"))[0])
    looks = max(1.0, 6 * longest / tau) if tau else 1.0
    z = Fraction(NormalDist().inv_cdf(1 - 0.05 / looks)) if looks > 1 else U
    # The square of min(1, sqrt(2 tau / length)).
    shrink = min(Fraction(1), 2 * job.tau(what if what != "line.leg_pull" else "line.pull") / length) if tau else Fraction(1)
    held = quantity_spans(job, what, hold if what != "rigging.legs_angle" else 10**18)
    sign, worst_lo, worst_best, accuse = -1 if word == "at_least" else 1, None, None, None
    lines = reading_lines(job, what)
    by_tag = what == "vehicle.speed" and tag_fixes(job) and not job.samples("line.out")
    unplaced = close_one = unsure_outside = bottomless = False
    holes, cut = bool(hidden) or not held, False  # Never a reading at all is no_data.
    for first, last in spans:
        widths = [clock_width(job, lines, end) for end in ends_of(job, proc, rule, one(form, "phase"), (first, last))]
        unplaced = unplaced or None in widths
        before, after = (w or 0 for w in widths)
        start, stop = first - before, last + after
        inside = [(max(a, start), min(b, stop), v, sd) for a, b, v, sd in held if max(a, start) < min(b, stop)]
        inside = no_surer(job, inside, first, last) if by_tag else inside
        edge = start
        for a, b, _, _ in inside + [(stop, stop, None, None)]:
            if a > edge:
                later = [x for x in held if x[0] >= a] or angle_lost(job, what, a)
                holes, cut = holes or bool(later), cut or not later
            edge = max(edge, b)
        for base in (first, first + length // 2):
            for begin in range(base - -(-before // length) * length, stop, length):
                a, b = max(begin, start), min(begin + length, stop)
                parts = [(max(c, a), min(d, b), v, sd) for c, d, v, sd in inside if max(c, a) < min(d, b)]
                covered = sum(d - c for c, d, _, _ in parts)
                if 2 * covered < length:
                    continue
                mean = sum(Fraction(v) * (d - c) for c, d, v, _ in parts) / covered
                mean, least, most = ends_of_mean(what, mean, parts, covered, sign)
                s = root_up(max(sd for _, _, _, sd in parts) ** 2 * shrink)
                bounds = limit(a)
                if bounds is None:
                    holes = True
                    continue
                low, best, high = bounds
                if low is None:
                    holes, bottomless, low = True, True, 0
                high = 10**15 if high is None else high
                if sign < 0:
                    low, high = high, low
                lo = sign * (low - most) - U * s
                mid = sign * (best - mean)
                hi = sign * (high - least) + z * s
                worst_lo = lo if worst_lo is None else min(worst_lo, lo)
                worst_best = mid if worst_best is None else min(worst_best, mid)
                outer_lo, _, outer_hi = outward(lo, mid, hi)
                close_one = close_one or beyond(outer_lo, word) and not beyond(outer_hi, word)
                if begin >= first + before and begin + length <= last - after and not clip([(a, b)], doubt):  # surely inside
                    accuse = hi if accuse is None else min(accuse, hi)
                elif begin >= start and begin + length <= stop and beyond(outer_hi, word):
                    unsure_outside = True
    if worst_best is None:
        return finding(name, "yes", "unproven", "no_data" if holes or not cut else "cut_short", unit=unit, factor=factor)
    blurred = unsure_outside and not close_one
    found = limit_finding((name, unit, factor), word, (worst_lo, worst_best, accuse), unplaced,
                          {"no_data": holes, "hidden end": doubt, "blurred": blurred, "clock_doubt": unsure_outside, "cut_short": cut})
    return dict(found, marginLo=None) if bottomless else found


UNIT_FACTOR = {unit: factor if unit else Fraction(1) for unit, (_, factor) in UNITS.items()}
