"""What the line bears: gear at two points, gear that nobody rated, gear past its date. Each decided from the written rule semantics."""

from corpus_cases import BASE, case, proc
from kernel_cases import CODES, HERE, LOST
from mutant_cases import SET
from trace_kit import Trace, expect

GEAR = """gear { id: "loop" kind: SOFT_LOOP wll: "600 kg" }
gear { id: "shackle" kind: SHACKLE wll: "1500 kg" }
gear { id: "blank" kind: HOOK }
gear { id: "due" kind: WEBBING wll: "600 kg" inspect_by: "2026-03-02" }
"""
TRUCK = 'truck { id: "truck-7" winch { line_speed: "6 m/min"%s } }\nsensor { id: "cell" channel: "line.pull" sd: "0 N" }\n'
LIMIT = 'limit_in_phase { phase: "set" quantity: "line.pull" at_most: "line.rating" sustained: "2 s" longest_gap: "5 s" }'


def pulled(name, marks, pull, want, about, rating=' line_rating: "17.8 kN"', base=BASE, end=160, truck="truck-7"):
    """A pull from 100 to 150 s against what the line bears by then; LOST keeps its number and never arrives."""
    t = Trace(name, base, bursts=True)
    t.op(-60, "opened", procedures=["p"], vehicle="unknown", truck=truck, operator="card-3f")
    for when, point, gear in marks:
        if point is None:
            t.put(when, *gear)
        else:
            t.op(when, "rigging", on=gear is not None, point=point, gear=gear or [])
    for when in range(90, end):
        t.sample(when, "line", "line.pull", pull)
    t.put(100.5, "desk", "scene", {"set": True})
    t.put(150.5, "desk", "scene", {"set": False})
    t.op(end, "closed", outcome="SIGNED")
    lines = [line for line in t.texts() if '"missing"' not in line]
    case(name, lines, proc("rule", ("rule", LIMIT), phases=SET), [dict(want, rule="rule")], CODES.get(want["verdict"], 1), about,
         TRUCK % rating + GEAR)


def what_is_in_the_line():
    """line.rating: the least of the line and the gear in it. 600 kg are 5.88399 kN, 1500 kg 14.709975."""
    met = lambda best: expect("rule", "met", best=best, lo=best, tol=0.0011, unit="kN")
    over = lambda best: expect("rule", "deviated", best=best, tol=0.0011, unit="kN")
    pulled("rigged-both", ((10, "front", ["loop"]), (20, "rear", ["shackle"])), 5000, met(0.884), "At two points: the weaker of both.")
    pulled("rigged-both-over", ((10, "front", ["loop"]), (20, "rear", ["shackle"])), 7000, over(-1.116), "At two points: over the weaker.")
    pulled("rigged-one-off", ((10, "front", ["loop"]), (20, "rear", ["shackle"]), (30, "rear", None)), 7000, over(-1.116),
           "The other taken off: this one still is in the line.")
    pulled("rigged-weak-off", ((10, "front", ["loop"]), (20, "rear", ["shackle"]), (30, "front", None)), 7000, met(7.71),
           "The weaker taken off.")
    pulled("rigged-unread", ((10, "front", ["blank", "shackle"]),), 7000, expect("rule", "unproven", reason="no_data", best=7.71, tol=0.0011, unit="kN"),
           "A hook that nobody rated first, then a shackle: at most the shackle's, and nobody knows how little.")
    unrated = expect("rule", "unproven", reason="no_data", best=9.71, tol=0.0011, unit="kN")
    pulled("rigged-no-line", ((10, "front", ["shackle"]),), 5000, unrated, "The winch's line is not rated: it may be the weakest.", rating="")
    pulled("rigged-no-truck", ((10, "front", ["shackle"]),), 5000, unrated, "The truck is in no register: its line may be the weakest.",
           truck="truck-77")
    pulled("rigged-no-truck-over", ((10, "front", ["shackle"]),), 15000, over(-0.291), "No register has the truck, but the shackle is over its own.",
           truck="truck-77")
    # It ran out at midnight, after a line of the operator's was lost: that is no word about the rigging.
    lost = ((10, "front", ["due"]), (20, None, HERE), (30, None, LOST), (40, None, HERE))
    pulled("rigged-due-lost", lost, 7000, expect("rule", "unproven", reason="no_data", unit="kN"),
           "Out of date since midnight, or changed by the lost line.", base="2026-03-02T23:59:00Z")
    pulled("rigged-due", lost[:2], 7000, over(-7), "Out of date since midnight: nothing that counts holds the line.", base="2026-03-02T23:59:00Z")


def make():
    what_is_in_the_line()
