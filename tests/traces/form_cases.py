"""Cases of single rule forms at the borders of what hides, what is freed, and which reason comes first; decided from the
written rule semantics.
"""

from corpus_cases import case, proc, trace
from decided_cases import less_missing
from kernel_cases import ARRIVED, CHECK, HERE, LOST, lost_line, unproven
from mutant_cases import SET, scene, still
from timed_cases import exact
from trace_kit import expect

MODE = lambda mode: ("operator", "vehicleMode", {"mode": mode})
ON, OFF = (("operator", *scene(value)) for value in (True, False))


def more_items_than_kinds():
    """Form 10, existence: one seen of two wanted; whether more hide decides, however many kinds are named."""
    two = 'evidence_present { item: "secured.checked" at_least: 2 %s: "arrived" }'
    lost_line("two-hidden-after", ((10, *ARRIVED), (20, *CHECK), (30, *LOST), (40, *HERE)), two % "after",
              unproven("no_data", best=-1, lo=-1, hi=None, unit="items"), "Two checks wanted, one seen; a lost line may be another.")
    lost_line("two-hidden-before", ((20, *CHECK), (30, *LOST), (40, *HERE), (60, *ARRIVED)), two % "before",
              unproven("no_data", best=-1, lo=-1, hi=None, unit="items"), "The same before an arrival.")
    lost_line("two-seen", ((10, *ARRIVED), (20, *CHECK), (40, *CHECK)), two % "after", exact("rule", "met", 0, "items"),
              "Two checks wanted, two seen.")
    lost_line("two-missed", ((10, *ARRIVED), (20, *CHECK)), two % "after", exact("rule", "deviated", -1, "items"),
              "Two checks wanted, one made, nothing lost.")


def lost_after_the_end():
    """What is lost after the job's end cannot have been evidence in it."""
    form = 'evidence_present { item: "secured.checked" at_least: 1 after: "arrived" }'
    desk = lambda text: ("desk", "note", {"text": text})
    lost_line("end-then-lost", ((10, *ARRIVED), (50, *desk("here")), (310, *desk("here")), (320, *desk("missing")), (330, *desk("here"))),
              form, exact("rule", "deviated", -1, "items"), "A line of the desk's is lost after the job was closed.")
    lost_line("end-while-lost", ((10, *ARRIVED), (50, *desk("here")), (320, *desk("missing")), (330, *desk("here"))),
              form, unproven("no_data", best=-1, lo=-1, hi=None, unit="items"), "The lost line may have been said before the end.",
              naive=False)


def off_before_on():
    """F.off counts only if F was on before; that nobody said how it was at the opening is no gap."""
    form = 'comes_first { first: "mode.rolling.off" then: "secured.checked" }'
    lost_line("off-never-on", ((10, *MODE("PARKED")), (20, *CHECK), (30, *MODE("ROLLING"))), form, expect("rule", ""),
              "Free-rolling only later: nobody could have ended it before.")
    lost_line("off-not-said", ((20, *CHECK), (30, *MODE("ROLLING"))), form, expect("rule", ""),
              "The same, and no word of it before the check.")
    lost_line("off-not-asked", ((10, *HERE),), form, expect("rule", ""), "No check at all, so nothing that it could come after.")


def reason_of_several_stays():
    """Section 3: of several reasons the first by precedence, too_close before cut_short, within a stay and over stays."""
    register = 'sensor { id: "it" channel: "clamp.volts" sd: "50 mV" tau: "200 ms" certificate: "C" valid_until: "2027-12-31" }\n'
    form = 'limit_in_phase { phase: "set" quantity: "clamp.volts" at_least: "11 V" sustained: "1 s" longest_gap: "2 s" }'

    def volts(name, spans, reason, about, more=()):
        lines = [(begin + n / 2, "clamp", "sample", {"signal": "clamp.volts", "value": level})
                 for begin, end, level in spans for n in range(2 * (end - begin))]
        lost_line(name, [(10, *ON), (40, *OFF), *more, *lines], form, unproven(reason, unit="V"), about, SET, register)

    second = ((60, *ON), (90, *OFF))
    volts("stay-cut", ((5, 30, 12.0),), "cut_short", "The volts end before the stay does.")
    volts("stay-close-cut", ((5, 30, 11.05),), "too_close", "They are also too close to the limit.")
    volts("stays-close-cut", ((5, 50, 11.05), (55, 80, 12.0)), "too_close", "One stay too close, the next one cut short.", second)
    volts("stays-cut-close", ((5, 30, 12.0), (55, 95, 11.05)), "no_data", "A hole in the first stay, the second too close.", second)


def freed_rechecks():
    """`unless` frees what was not outside before it, also while the job goes on, and where a lost line may be it."""
    form = 'unless: "arrived" recheck_every { phase: "set" check: "secured.checked" time: "100 s" parked_counts: true }'
    still("recheck-freed", form, ((10, *scene(True)), (50, "arrived", {}), (60, "note", {"text": "here"})), expect("rule", ""),
          "Freed after 40 of 100 s.", SET)
    still("recheck-freed-late", form, ((10, *scene(True)), (150, "arrived", {}), (160, "note", {"text": "here"})),
          expect("rule", "deviated", best=-40, lo=-40, hi=-40, unit="s"), "Freed after 140 of 100 s.", SET)
    for name, when, want in (("before", (20, 40), unproven("no_data", best=-190, lo=-190, hi=None, unit="s")),
                             ("after", (200, 240), expect("rule", "deviated", best=-190, lo=-190, hi=-90, tol=0.001, unit="s"))):
        lost_line("recheck-free-" + name, ((10, *ON), (when[0], *HERE), (when[0] + 5, *LOST), (when[1], *ON)), form, want,
                  "A line is lost after %d s; it may have freed the rule." % (when[0] - 10), SET)
    evidence = 'unless: "arrived" evidence_present { item: "secured.checked" at_least: 1 after: "scene.set.on" }'
    lost_line("evidence-free", ((3, *HERE), (5, *LOST), (10, "operator", *scene(True))), evidence,
              unproven("no_data", best=-1, lo=-1, hi=None, unit="items"), "What may have freed it is lost before the scene was set.")


def make():
    more_items_than_kinds()
    lost_after_the_end()
    off_before_on()
    reason_of_several_stays()
    freed_rechecks()
