"""Facts, events and quantities of one job, the plain way: every question walks all lines again.

Written from the vocabulary and the rule semantics alone. A fact is a list of spans
(start, end, value, line), value True, False or None (unknown), covering opened..closed.
"""

import copy
from fractions import Fraction
import math

import naive_order
import naive_rules
from naive_spans import SETTLE, blank, both, either, either_of, first_known, in_doubt, lay, merge, negate, settle, step, value_at
from naive_text import RESOLUTION, one, quantity, spread, stored

U = Fraction(1645, 1000)
G = Fraction(980665, 100000)
HOLD = {"clamp.pos.contact": 2_000_000, "clamp.neg.contact": 2_000_000, "clamp.volts": 2_000_000,
        "line.pull": 5_000_000, "line.out": 5_000_000, "clamp.amps": 2_000_000}
DEFAULT_SD = {"line.pull": "1 % + 20 N", "line.out": "50 mm", "clamp.volts": "1 %", "deck.tilt": "2 deg",
              "rigging.legs_angle": "5 deg", "vehicle.speed": "0.2 m/s", "deck.accel_x": "0.1 m/s2", "deck.accel_y": "0.1 m/s2",
              "deck.accel_z": "0.1 m/s2"}
DEFAULT_TAU = {"line.pull": 200_000, "line.out": 200_000, "clamp.volts": 500_000, "vehicle.speed": 1_500_000,
               "deck.accel_x": 50_000, "deck.accel_y": 50_000, "deck.accel_z": 50_000}
MODES = ("parked", "rolling", "drive", "reverse", "off")


class Job:
    def __init__(self, lines, broken, register):
        self.register = register
        self.broken = {}
        self.opened = min((line for line in lines if line.kind == "opened"), key=lambda line: (line.shown, line.source, line.seq))
        self.lines = self.correct(lines)
        ends = [line for line in self.lines if line.kind in ("closed", "abandoned")]
        self.start = self.opened.time
        self.end = ends[0].time if ends else max(line.time for line in self.lines)
        undone = self.taken_back()
        self.lines = [line for line in self.lines if line.ref() not in undone]
        for source, seq in broken.items():
            self.broken[source] = min(line.time for line in self.lines if line.source == source and line.seq >= seq)
        self.lines = [line for line in self.lines
                      if line.source not in self.broken or line.seq < broken[line.source]]
        # A line of another clock keeps its place: its shown time says nothing of the job's span.
        self.lines = [line for line in self.lines
                      if self.start <= line.time <= self.end or line.clock != self.opened.clock]
        self.gaps = self.find_gaps(undone)
        self.cache = {}
        self.phases = {}  # id -> the phase as a fact, of the procedure being judged

    # --- time ---

    def correct(self, lines):
        offsets = [line for line in lines if line.kind == "clockOffset"]
        for line in lines:
            near = [o for o in offsets if o.body["clock"] == line.clock]
            line.known_clock = True
            if near:
                best = min(near, key=lambda o: abs(o.time - line.shown))
                line.time = line.shown - math.floor(best.body["offsetMs"] * 1000.0 + 0.5)  # as quantities are stored
                square = math.ceil(line.u ** 2 + (U * Fraction(str(best.body["sdMs"])) * 1000) ** 2)
                line.u = Fraction(math.isqrt(square - 1) + 1 if square else 0)  # both, as of two clocks; whole us, outward
                line.shared = True
        by_source = {}
        for line in sorted(lines, key=lambda line: (line.source, line.seq)):
            last = by_source.get(line.source)
            if last is not None and line.time < last:  # a step back: running maximum, the step goes to u
                line.u += last - line.time
                line.step = last - line.time
                line.stepped = True
                line.time = last
            by_source[line.source] = line.time
        marks = sorted((line for line in lines if line.source == "operator" and
                        line.kind not in ("alive", "gap", "clockOffset", "undo")), key=lambda line: line.seq)
        for i in range(len(marks)):
            group = [m for m in marks if 0 <= m.time - marks[i].time <= 5_000_000]
            if len(group) >= 3:
                before = [m.time for m in marks if m.seq < marks[i].seq]
                back = max(before) if before else marks[i].time
                for mark in group:
                    mark.early = max(mark.early, mark.time - back)
        return sorted(lines, key=lambda line: (line.time, line.source, line.seq))

    def taken_back(self):
        """Lines that an `undo` takes back which stands itself; what an instrument read no person takes back."""
        undone = set()
        for line in reversed(self.lines):
            target = (line.body["source"], line.body["seq"]) if line.kind == "undo" else None
            if target and line.ref() not in undone and not (is_person(line.source) and not is_person(target[0])):
                undone.add(target)
        return undone

    def lost_before(self, source, t):
        """How many lines of the source are missing before t; None = unknown how many."""
        own = sorted((line for line in self.lines if line.source == source), key=lambda line: line.seq)
        if source in self.broken and self.broken[source] <= t:
            return None
        return sum(b.seq - a.seq - 1 for a, b in zip(own, own[1:]) if a.time < t)

    def find_gaps(self, undone):
        """source -> [(from, until or None)] where lines of that source are missing; one taken back is not."""
        gaps = {}
        for source in {line.source for line in self.lines}:
            own = sorted((line for line in self.lines if line.source == source), key=lambda line: line.seq)
            for a, b in zip(own, own[1:]):
                if any((source, seq) not in undone for seq in range(a.seq + 1, b.seq)):
                    gaps.setdefault(source, []).append((a.time, b.time))
        for source, when in self.broken.items():
            gaps.setdefault(source, []).append((when, None))
        return gaps

    # --- facts ---

    def said(self, names, value_of, initial, also=()):
        """A fact from lines: value_of(line) gives True, False or None for 'not about it'."""
        changes, sources = [(self.start, initial, None)], set()
        # An instrument's value replaces the word from its first line on, said or lost.
        first = min((l.time for l in self.lines if value_of(l) is not None and not is_person(l.source)), default=None)
        for line in self.lines:
            value = value_of(line)
            if value is not None:
                sources.add(line.source)
                if first is None or line.time < first or not is_person(line.source):
                    changes.append((line.time, value if line.good else None, line))
        spans = [(t, changes[i + 1][0] if i + 1 < len(changes) else self.end, v, line)
                 for i, (t, v, line) in enumerate(changes)]
        # A lost line of a person may have been about anything, unless an instrument speaks of it.
        for source in sources | set(also) | self.people():
            for start, until in self.gaps.get(source, []):
                if first is not None and is_person(source) and start >= first:
                    continue
                # Until the next word of it by anybody that no lost line can have followed.
                later = [t for t, _, line in changes[1:] if until is not None and t >= until or
                         t >= start and line.source != source and not is_person(line.source)]
                if first is not None and is_person(source):
                    later.append(first)
                # Reading: the last line before the gap is known to hold at its instant and is taken as
                # lasting, not as a bounce that a lost line ended; unknown begins right after it.
                spans = blank(spans, start + 1, min(later) if later else self.end)
        return spans

    def people(self):
        return {line.source for line in self.lines if is_person(line.source)}

    def samples(self, signal):
        """[(time, stored value or None, line)] of a signal, in order of time."""
        found = []
        for line in self.lines:
            if line.kind == "sample" and line.body["signal"] == signal:
                found.append((line.time, stored(signal, line.body["value"]) if line.good else None, line))
            elif line.kind == "deck" and signal == "deck.tilt" and "tiltDeg" in line.body:
                found.append((line.time, stored(signal, line.body["tiltDeg"]), line))
        return found

    def held(self, signal, hold):
        """Sample-and-hold spans (start, end, value, line); unknown past `hold` (None: for ever)."""
        found = self.samples(signal)
        spans = [(self.start, found[0][0] if found else self.end, None, None)]
        for i, (t, value, line) in enumerate(found):
            stop = found[i + 1][0] if i + 1 < len(found) else self.end
            good = stop if hold is None else min(stop, t + hold)
            spans.append((t, good, value, line))
            if good < stop:
                spans.append((good, stop, None, None))
        if found and found[0][2].source in self.broken:
            spans = blank(spans, self.broken[found[0][2].source], self.end)
        return [s for s in spans if s[0] < s[1]]

    def contact(self, jaw):
        """None if never sampled, else spans from the first sample on."""
        signal = f"clamp.{jaw}.contact"
        if not self.samples(signal):
            return None
        return [(a, b, None if v is None else bool(v), line) for a, b, v, line in self.held(signal, HOLD[signal])]

    def clamp(self, lead, points):
        word = {"positive": "POSITIVE", "negative": "NEGATIVE"}[lead]

        def value_of(line):
            if line.kind == "clamp" and line.body["lead"] == word and line.body["at"] == "VEHICLE":
                if line.body.get("point", "TERMINALS") in points:
                    return line.body["on"]
            return None

        spans = self.said(None, value_of, False, {line.source for line in self.lines if line.kind == "clamp"})
        touch = self.contact(lead[:3])
        if touch and "TERMINALS" in points:
            first = next(t for t, _, _ in self.samples(f"clamp.{lead[:3]}.contact"))
            spans = [(a, min(b, first), v, line) for a, b, v, line in spans if a < first]
            spans += [s for s in touch if s[0] >= first]
        return spans

    def run(self, spans, true_if, least, false_if=None, least_off=SETTLE):
        """True from the first edge of a run of `true_if` lasting `least` until one of false_if."""
        false_if = false_if or (lambda v: not true_if(v))
        out, state, i = [], False, 0
        while i < len(spans):
            a, b, v, line = spans[i]
            if v is None:
                out.append((a, b, None, None))
                state = False
                i += 1
                continue
            wanted = true_if if not state else false_if
            if wanted(v):
                j, stop = i, b
                while j + 1 < len(spans) and spans[j + 1][2] is not None and wanted(spans[j + 1][2]):
                    j += 1
                    stop = spans[j][1]
                if stop - a >= (least if not state else least_off):
                    state = not state
            out.append((a, b, state, line))
            i += 1
        return out

    def fact(self, name):
        if name.startswith("phase:"):
            return self.phases[name[6:]]()
        if name not in self.cache:
            self.cache[name] = settle(merge(self.raw(name)))
        return self.cache[name]

    def blurred(self):
        """Whether a step back of a clock leaves open whether some word lasted."""
        return any(step(line) for line in self.lines)

    def shorted(self):
        """50 A or more with under 2 V for 200 ms; over with under 10 A, or 3 V or more, for 1 s."""
        if not self.samples("clamp.amps") or not self.samples("clamp.volts"):
            return [(self.start, self.end, None, None)]
        volts = self.held("clamp.volts", HOLD["clamp.volts"])
        both_read = [(a, b, v if v is None else (v, value_at(volts, a)), line)
                     for a, b, v, line in self.held("clamp.amps", HOLD["clamp.amps"])]
        return self.run(both_read, lambda r: abs(r[0]) >= 50_000 and r[1] is not None and abs(r[1]) < 2000, 200_000,
                        lambda r: abs(r[0]) < 10_000 or r[1] is not None and abs(r[1]) >= 3000, 1_000_000)

    def raw(self, name):
        if name == "clamp.shorted":
            return self.shorted()
        if name.startswith("clamp."):
            return self.clamp(name[6:], ("TERMINALS", "BATTERY"))
        if name.startswith("lid."):
            return self.clamp(name[4:], ("LID_LEAD",))
        if name == "boost":
            off = self.said(None, lambda l: (not l.body["on"]) if l.kind == "sourcePower" else None, False)
            if not any(l.kind == "clamp" and l.body["at"] == "VEHICLE" for l in self.lines) and not (
                    self.samples("clamp.pos.contact") or self.samples("clamp.neg.contact")):
                # Neither a word nor a jaw: 3 V for 1 s tell a connection, under 1 V for 1 s its end.
                if self.samples("clamp.volts"):
                    volts = self.run(self.held("clamp.volts", HOLD["clamp.volts"]), lambda v: abs(v) >= 3000, 1_000_000,
                                     lambda v: abs(v) < 1000, 1_000_000)
                    return both(first_known(volts, False), negate(off))
            return both(both(self.fact("clamp.positive"), self.fact("clamp.negative")), negate(off))
        if name in ("screen.awake", "drive.ready"):
            kind, key = {"screen.awake": ("screen", "awake"), "drive.ready": ("driveReady", "confirmed")}[name]
            return self.said(None, lambda l: l.body[key] if l.kind == kind else None, None)
        if name == "steering.live":
            mechanical = self.vehicle() and one(self.vehicle(), "steer_by_wire", "false") == "false"
            if mechanical and not any(l.kind == "steering" for l in self.lines):
                return [(self.start, self.end, True, None)]
            return self.said(None, lambda l: l.body["live"] if l.kind == "steering" else None, None)
        if name == "smoke":
            return self.said(None, lambda l: l.body["seen"] if l.kind == "smoke" else None, False)
        if name == "barrier":
            return self.said(None, lambda l: l.body["barrier"] if l.kind == "isolation" else None, False)
        if name == "scene.set":
            return self.said(None, lambda l: l.body["set"] if l.kind == "scene" else None, False)
        if name == "held_by_line_alone":
            return both(both(self.fact("rigging"), self.fact("loaded")), negate(self.fact("tied")))
        if name == "connector.in":
            return self.said(None, lambda l: {"IN": True, "OUT": False}.get(l.body["event"]) if l.kind == "connector" else None,
                             None)
        if name.startswith("mode."):
            return self.said(None, lambda l: (l.body["mode"].lower() == name[5:]) if l.kind == "vehicleMode" else None, None)
        if name.startswith("cover.off:"):
            return self.said(None, lambda l: l.body["off"] if l.kind == "cover" and l.body["which"] == name[10:] else None, False)
        if name == "rigging":
            return self.any_of([self.fact("rigging:" + p) for p in sorted({l.body["point"] for l in self.lines if l.kind == "rigging"})])
        if name.startswith("rigging:"):
            return self.said(None, lambda l: l.body["on"] if l.kind == "rigging" and l.body["point"] == name[8:] else None, False)
        if name == "tied":
            return self.any_of([self.piece(key) for key in self.pieces()])
        if name == "line.taut":
            if any(l.kind == "line" and l.body["state"] in ("TAUT", "SLACK", "RELEASED") for l in self.lines):
                return self.said(None, lambda l: {"TAUT": True, "SLACK": False, "RELEASED": False}.get(l.body["state"])
                                 if l.kind == "line" else None, False)
            if not self.samples("line.pull"):
                return [(self.start, self.end, False, None)]
            return first_known(self.run(self.held("line.pull", HOLD["line.pull"]), lambda v: v >= 500, 2_000_000), False)
        if name == "line.pulling":
            if not self.samples("line.pull"):
                return [(self.start, self.end, None, None)]
            return self.run(self.held("line.pull", HOLD["line.pull"]), lambda v: v >= 300, 500_000,
                            lambda v: v < 150, 1_000_000)
        if name == "deck.moving":
            return self.said(None, lambda l: l.body.get("moving") if l.kind == "deck" else None, None)
        if name == "truck.moving":
            return self.said(None, lambda l: l.body["moving"] if l.kind == "truckMotion" else None, None)
        if name in ("loaded", "wheels.on_deck", "wheels.on_ground"):
            return self.wheels(name)
        if name == "rolling":
            return self.rolling()
        raise KeyError(name)

    def any_of(self, facts):
        """Where nobody named one, a lost line may have."""
        return either_of(facts, self) if facts else self.said(None, lambda l: None, False)

    def wheels(self, name):
        at = {w: [(self.start, "GROUND", None)] for w in ("LF", "RF", "LR", "RR")}
        for line in self.lines:
            if line.kind == "wheels":
                for wheel in at if line.body["which"] == "ALL" else [line.body["which"]]:
                    at[wheel].append((line.time, line.body["on"], line))
        facts = []
        for changes in at.values():
            ok = {"loaded": ("DECK", "LIFT"), "wheels.on_deck": ("DECK",), "wheels.on_ground": ("GROUND",)}[name]
            facts.append([(t, changes[i + 1][0] if i + 1 < len(changes) else self.end, on in ok, line)
                          for i, (t, on, line) in enumerate(changes)])
        out = facts[0]
        for fact in facts[1:]:
            out = both(out, fact) if name != "wheels.on_ground" else either(out, fact)
        return out

    def unnamed_false(self, name):
        """An input that no line has named so far counts as false in a derived fact."""
        spans = first_known(self.fact(name), False)
        for a, b in self.unseen(name, self.start, self.end):
            if self.unnamed(name):
                continue
            if not self.named_before(name, b):  # only since a line was lost
                a = max(a, min(g[0] for source in self.speakers(name) for g in self.gaps.get(source, [])) + 1)
            if any(s[2] is False and s[0] <= a < s[1] for s in spans):
                spans = blank(spans, a, b)
        return merge(spans)

    def unnamed(self, name):
        """No line and no gap: plainly never said."""
        return all(v is None for _, _, v, _ in self.fact(name)) and not any(self.gaps.get(s) for s in self.speakers(name))

    def still(self):
        moving = either(self.unnamed_false("deck.moving"), self.unnamed_false("truck.moving"))
        return negate(merge(moving))

    def rolling(self):
        still = self.still()
        pulled = [(self.start, self.end, False, None)]
        out = self.samples("line.out")
        for a, b, v, own in merge(both(self.unnamed_false("line.pulling"), still)):
            way = [value for t, value, _ in out if a <= t < b and value is not None]
            if v and way and max(way) - min(way) > 300:
                pulled = [s for s in lay(pulled, (a, b, True, own))]
        rolling = both(either(self.unnamed_false("mode.rolling"), merge(pulled)), still)
        unknown = [(a, b) for a, b, v, _ in self.unnamed_false("line.pulling") if v is None]
        for a, b in unknown:  # an unseen pull may have moved the car
            rolling = [s for span in rolling for s in
                       (blank([span], max(a, span[0]), min(b, span[1])) if span[2] is False and self.samples("line.out")
                        and max(a, span[0]) < min(b, span[1]) else [span])]
        return rolling

    def pieces(self):
        return sorted({(l.body["gear"], l.body.get("wheel", ""), l.body.get("point", ""))
                       for l in self.lines if l.kind == "tiedown"})

    def piece(self, key):
        return self.said(None, lambda l: l.body["on"] if l.kind == "tiedown" and
                         (l.body["gear"], l.body.get("wheel", ""), l.body.get("point", "")) == key else None, False)

    # --- events ---

    def edges(self, name):
        """[(time, line)] of F.on or F.off; F.off only after F was on."""
        fact, way = name.rsplit(".", 1)
        spans, found, known = self.fact(fact), [], False
        for before, now in zip([(None, None, None, None)] + spans, spans):
            if now[2] is True and before[2] is not True and now[3] is not None and before[0] is not None:
                if way == "on" and known is not True:
                    found.append((now[0], now[3]))
            # Off, unknown, off again (or on, unknown, on) is no sure edge: nothing need have been between.
            if now[2] is False and before[2] is not False and known is True and way == "off" and before[0] is not None:
                found.append((now[0], now[3]))
            known = known if now[2] is None else now[2]
        return found

    def events(self, name):
        if name == "first_touch":
            names = ["clamp.positive.on", "clamp.negative.on", "lid.positive.on", "lid.negative.on", "rigging.on",
                     "connector.in.on"]
            names += [f"cover.off:{l.body['which']}.on" for l in self.lines if l.kind == "cover"]
            found = [(*e, naive_rules.early(self, n, e[0])) for n in names for e in self.edges(n)[:1]]
            found += [(l.time, l, 0) for l in self.lines if l.kind in ("door", "connector")]
            return [first_by_clock(sorted(found, key=lambda e: e[0]))] if found else []
        if name in ("opened", "closed", "abandoned", "arrived", "found", "identified", "authority", "film", "statement"):
            hits = [l for l in self.lines if l.kind == name]
            return [(l.time, l) for l in hits]
        if name in ("anchor", "heat"):
            return [(l.time, l) for l in self.lines if l.kind == name]
        if name.startswith("charging.") and name[9:] in ("started", "stopped", "confirmed"):
            return [(l.time, l) for l in self.lines if l.kind == "charging" and l.body["state"] == name[9:].upper()]
        if name.startswith("connector.") and not self.is_fact_event(name):
            return [(l.time, l) for l in self.lines if l.kind == "connector" and l.body["event"] == name[10:].upper()]
        if name.startswith("door.opened"):
            return [(l.time, l) for l in self.lines if l.kind == "door" and name in ("door.opened", "door.opened:" + l.body["means"])]
        if name == "secured.checked":
            return [(l.time, l) for l in self.lines if l.kind == "secured" and l.body["checked"]]
        if name.startswith("step.done:"):
            return [(l.time, l) for l in self.lines if l.kind == "step" and l.body["id"] == name[10:] and l.body["done"]]
        if name.startswith("item:"):
            return [(l.time, l) for l in self.lines if l.kind == "item" and l.body["kind"] == name[5:]]
        if name.startswith("custody."):
            return [(l.time, l) for l in self.lines if l.kind == "custody" and l.body["event"].lower() == name[8:]]
        if name.startswith("photo"):
            head, view = name.split(":", 1)
            when = head[6:].upper()
            return [(l.time, l) for l in self.lines
                    if (l.kind == "photo" and l.body["view"] == view or
                        l.kind == "film" and view in ("front", "rear", "left", "right"))
                    and (not when or l.body["when"] == when)]
        return self.edges(name)

    def unsure_ons(self, name):
        """Where a fact that was on is on again after a gap: it may have been off meanwhile, and gone on just then."""
        fact = name[:-3]
        spans, found, known = self.fact(fact), [], None
        for before, now in zip([(None,) * 4] + spans, spans):
            if now[2] is True and before[2] is None and known is True and before[0] is not None and self.unseen(fact, *before[:2]):
                found.append((now[0], now[3]))
            known = known if now[2] is None else now[2]
        return found

    def unsure_offs(self, name):
        """F.off edges of a fact that may, but need not, have been on inside a gap or hole."""
        spans, found, known, maybe = self.fact(name[:-4]), [], False, False
        for before, now in zip([(None,) * 4] + spans, spans):
            if now[2] is False and before[2] is not False and before[0] is not None and maybe and known is not True:
                found.append((now[0], now[3]))
            known = known if now[2] is None else now[2]
            maybe = maybe or (now[2] is None and (now[3] is None or in_doubt(now[3])) and bool(self.unseen(name[:-4], now[0], now[1])))
        return found

    def unseen(self, fact, start, end):
        """Spans of [start, end) in which the fact is unknown, less what is unknown from opened on by want of a word."""
        spans = [(max(a, start), min(b, end)) for a, b, v, _ in self.fact(fact) if v is None and max(a, start) < min(b, end)]
        out = []
        for a, b in spans:
            if a == self.start and b < self.end and not self.named_before(fact, b):
                near = [g[0] for source in self.speakers(fact) for g in self.gaps.get(source, []) if g[0] < b]
                if not near:
                    continue  # unknown at opened opens nothing
                a = max(a, min(near) + 1)
            out.append((a, b))
        return out

    def speakers(self, fact):
        named = {line.source for _, _, _, line in self.fact(fact) if line is not None}
        if fact.startswith(("clamp.", "lid.")):  # who says one clamp's state may have said any clamp's
            named |= {line.source for line in self.lines if line.kind == "clamp"}
        return named if named - self.people() else named | self.people()

    def named_before(self, fact, t):
        return any(v is not None for a, _, v, _ in self.fact(fact) if a < t)

    def is_fact_event(self, name):
        return name.endswith((".on", ".off")) and name != "first_touch"

    # --- register ---

    def vehicle(self):
        hits = [v for v in self.register.get("vehicle", []) if one(v, "id") == self.opened.body["vehicle"]]
        return hits[0] if hits else {}

    def truck(self):
        hits = [t for t in self.register.get("truck", []) if one(t, "id") == self.opened.body["truck"]]
        return hits[0] if hits else {}

    def gear(self, name):
        hits = [g for g in self.register.get("gear", []) if one(g, "id") == name]
        return hits[0] if hits else None

    def sensor(self, channel):
        hits = [s for s in self.register.get("sensor", []) if one(s, "channel") == channel
                and one(s, "truck") in (None, self.opened.body["truck"])]
        return hits[0] if hits else {}

    def sd(self, channel):
        text = one(self.sensor(channel), "sd") or DEFAULT_SD.get(channel)
        return spread(text) if text else (lambda value: Fraction(0))

    def tau(self, channel):
        text = one(self.sensor(channel), "tau")
        return quantity(text)[0] if text else Fraction(DEFAULT_TAU.get(channel, 0))

    def mass(self):
        """(lo, best, hi) in g, or None."""
        body = self.opened.body
        if "massKg" in body:
            best, sd = Fraction(str(body["massKg"])) * 1000, Fraction(str(body.get("massSdKg", 0))) * 1000
        elif one(self.vehicle(), "mass"):
            best = quantity(one(self.vehicle(), "mass"))[0]
            sd = quantity(one(self.vehicle(), "mass_sd", "0 kg"))[0]
        else:
            return None
        return best - U * sd, best, best + U * sd


def is_person(source):
    return source in ("operator", "desk")


def first_by_clock(found):
    """The first of several events, as much earlier as clocks of their own let another one be."""
    when, line, own = found[0]
    first = copy.copy(line)
    first.early = max(first.early, own)
    for _, other, sooner in found:  # first seen after a gap it may have been so much sooner
        if other.clock == line.clock and line.clock is not None or other.source == line.source and other.clock == line.clock:
            continue
        span = naive_order.apart(other, line)
        if span is None:
            first.clock = first.wide = None
            first.source = "nobody's clock"
        else:
            first.early = max(first.early, span[2] + sooner)
    return when, first


__all__ = ["Job", "U", "G", "RESOLUTION", "HOLD", "value_at", "both", "merge", "math"]
