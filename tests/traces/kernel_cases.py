"""Cases of what a lost or contradicted line leaves open, form by form, decided from the written rule semantics."""

from corpus_cases import DRIVING, ROLLING, BASE, case, proc, trace
from decided_cases import less_missing, missing
from mutant_cases import SET, STRAPS, clocked, fix, scene
from timed_cases import exact
from trace_kit import U, Trace, digest, expect, put_tag

CODES = {"met": 0, "": 0, "deviated": 2}
ARRIVED, CHECK = ("operator", "arrived", {}), ("operator", "secured", {"checked": True})
LOST, HERE = (("operator", "note", {"text": text}) for text in ("missing", "here"))


def unproven(reason, **more):
    return expect("rule", "unproven", reason=reason, **more)


def lost_line(name, lines, form, expected, about, phases="", register="", end=300, rule="rule", **more):
    """Lines as (seconds, source, kind, content); LOST keeps its number and never arrives."""
    t = trace(name, bursts=True)
    for when, source, kind, content in lines:
        t.put(when, source, kind, content)
    t.op(end, "closed", outcome="SIGNED")
    case(name, less_missing(t.texts()), proc("rule", (rule, form), phases=phases), [dict(expected, rule=rule)], CODES.get(expected["verdict"], 1),
         about, register, **more)


def contradicted_strap():
    """The same source and number with other content: that source is unknown from there on, here what a strap's line said."""
    t = Trace("T10-strap", BASE)
    t.op(-60, "opened", procedures=["p"], vehicle="unknown", truck="truck-7", operator="card-3f", massKg=4700, massSdKg=0)
    for n, wheel in enumerate(("LF", "RF", "LR", "RR")):
        t.put(-50 + 10 * n, "desk", "tiedown", {"on": True, "gear": f"strap-{n + 1}", "wheel": wheel, "path": "ACROSS"})
    t.put(60, "gps.truck", "truckMotion", {"moving": True})
    t.put(600, "gps.truck", "truckMotion", {"moving": False})
    t.op(700, "closed", outcome="SIGNED")
    lines = t.texts()
    other = next(line for line in lines if '"source":"desk","seq":4' in line).replace('"on":true', '"on":false')
    form = 'enough_strength { phase: "driving" of: "tiedowns" times_mass: "0.5" least_count: 4 }'
    case("T10-strap", lines + [other], proc("strength", ("strength", form), phases=DRIVING),
         [expect("strength", "unproven", reason="sources_disagree", unit="kg"),
          expect("strength.count", "unproven", reason="sources_disagree", unit="items")], 1,
         "Of the fourth strap one line says on and one off.", STRAPS)


def straps_in_a_gap():
    """What the operator says while the desk's lines are lost, a later one of those may have taken back."""
    def four(name, last, expected):
        t = Trace(name, BASE)
        t.op(-60, "opened", procedures=["p"], vehicle="unknown", truck="truck-7", operator="card-3f", massKg=4700, massSdKg=0)
        t.put(-59, "gps.truck", "truckMotion", {"moving": False})
        for n, wheel in enumerate(("LF", "RF", "LR")):
            t.op(-50 + 10 * n, "tiedown", on=True, gear=f"strap-{n + 1}", wheel=wheel, path="ACROSS")
        for when, text in ((0, "here"), (10, "missing"), (40, "here")):
            t.put(when, "desk", "note", {"text": text})
        t.op(last, "tiedown", on=True, gear="strap-4", wheel="RR", path="ACROSS")
        for n, wheel in enumerate(("LF", "RF", "LR")):
            t.op(70 + 10 * n, "tiedown", on=True, gear=f"strap-{n + 1}", wheel=wheel, path="ACROSS")
        t.put(110, "gps.truck", "truckMotion", {"moving": True})
        t.put(600, "gps.truck", "truckMotion", {"moving": False})
        t.op(700, "closed", outcome="SIGNED")
        form = 'enough_strength { phase: "driving" of: "tiedowns" times_mass: "0.5" }'
        case(name, less_missing(t.texts()), proc("strength", ("strength", form), phases=DRIVING), [expected], CODES.get(expected["verdict"], 1),
             "The fourth strap goes on at %d s; a line of the desk's is lost up to 40 s." % last, STRAPS)

    four("gap-strap-in", 20, expect("strength", "unproven", reason="no_data", best=50, unit="kg"))
    four("gap-strap-after", 50, expect("strength", "met", best=50, lo=50, unit="kg"))


def two_reasons():
    """Of several instants that stay open the worst is shown, and the first of all their reasons."""
    t = Trace("strength-two-reasons", BASE)
    t.op(-60, "opened", procedures=["p"], vehicle="unknown", truck="truck-7", operator="card-3f", massKg=4700, massSdKg=round(160 / U, 3))
    straps = [(f"strap-{n}", wheel) for n, wheel in enumerate(("LF", "RF", "LR", "RR"), 1)] + [("strap-5", "RR"), ("bare", "LR")]
    strap = lambda when, which, on=True: t.op(when, "tiedown", on=on, gear=straps[which][0], wheel=straps[which][1], path="ACROSS")
    for which in range(4):
        strap(-50 + 10 * which, which)
    t.put(60, "gps.truck", "truckMotion", {"moving": True})
    strap(300, 4)
    strap(310, 5)
    strap(320, 3, on=False)
    t.put(600, "gps.truck", "truckMotion", {"moving": False})
    t.op(700, "closed", outcome="SIGNED")
    dates = 'in_service: "2025-01-10" inspect_by: "2027-01-10"'
    more = (f'gear {{ id: "strap-5" kind: WEBBING width: "50 mm" wll: "620 kg" anchor_wll: "2000 kg" {dates} }}\n'
            f'gear {{ id: "bare" kind: WEBBING anchor_wll: "2000 kg" {dates} }}\n')
    # Half of 4,700 +-160: 2,350 +-80. First 2,400, too close; from 320 s on 2,420 and a strap that nobody can read.
    form = 'enough_strength { phase: "driving" of: "tiedowns" times_mass: "0.5" }'
    case("strength-two-reasons", t.texts(), proc("strength", ("strength", form), phases=DRIVING),
         [expect("strength", "unproven", reason="no_data", best=50, lo=-30, hi=130, tol=0.002, unit="kg")], 1,
         "Too close at first, not to be read later.", STRAPS + more)


def anchors_nobody_saw():
    """P6: a lost line turns no deviation into met. An arrival that nobody saw wants a check after it, too."""
    form = 'evidence_present { item: "secured.checked" at_least: 1 %s }'
    met = exact("rule", "met", 0, "items")
    for name, words, lines, want in (
            ("whole", 'after: "arrived"', ((10, *ARRIVED), (20, *CHECK), (40, *ARRIVED)),
             expect("rule", "deviated", best=-1, lo=-1, hi=-1, unit="items")),
            ("after", 'after: "arrived"', ((10, *ARRIVED), (20, *CHECK), (40, *LOST)), unproven("no_data", unit="items")),
            ("enough", 'after: "arrived"', ((10, *ARRIVED), (15, *LOST), (20, *CHECK)), met),
            ("before", 'before: "arrived"', ((10, *CHECK), (20, *ARRIVED), (40, *LOST)), met),
            ("window", 'before: "arrived" window: "60 s"', ((10, *CHECK), (20, *ARRIVED), (40, *LOST)),
             unproven("no_data", unit="items"))):
        lost_line("unseen-" + name, lines, form % words, want, "One arrival is seen; another may hide where a line is lost.",
                  naive="window" not in words)


def on_at_all():
    """F.off counts where F was on earlier in the job; where that is open, what would deviate may be none of the rule's. The
    second lead's clock is 2 s off."""
    negative, positive = (lambda on, lead=lead: ("clamp", {"lead": lead, "on": on, "at": "VEHICLE", "point": "TERMINALS"})
                          for lead in ("NEGATIVE", "POSITIVE"))
    form = 'comes_first { first: "clamp.negative.off" then: "clamp.positive.on" }'
    own = {"clock": "probe.b", "timeUncertaintyMs": 2000}
    for name, lines, want in (
            ("whole", ((25, "probe.b", *positive(True)), (30, "probe.a", *negative(True)), (44, "probe.b", *positive(False)),
                       (54, "probe.a", *negative(False)), (64, "probe.b", *positive(True))),
             expect("rule", "met", best=10, lo=8, hi=12, unit="s")),
            # The first was seen on after the loss, and may have been on since it, which may be before the other went on.
            ("lost", ((25, "probe.b", *positive(True)), (26, "probe.b", "note", {"text": "here"}), (30, "probe.a", *negative(True)), (44, "probe.b", "note", {"text": "missing"}),
                      (54, "probe.a", *negative(False)), (64, "probe.b", *positive(True))), unproven("no_data", applies="unknown")),
            ("near", ((25, "probe.b", *positive(True)), (26, "probe.a", *negative(True)), (54, "probe.a", *negative(False))),
             unproven("clock_doubt", applies="unknown")),
            ("just", ((25, "probe.b", *positive(True)), (27, "probe.a", *negative(True)), (54, "probe.a", *negative(False))),
             unproven("clock_doubt", applies="unknown")),
            ("far", ((25, "probe.b", *positive(True)), (28, "probe.a", *negative(True)), (54, "probe.a", *negative(False))),
             expect("rule", "")),
            ("sure", ((29, "probe.b", *positive(True)), (26, "probe.a", *negative(True)), (54, "probe.a", *negative(False))),
             expect("rule", "deviated", best=-25, lo=-27, hi=-23, unit="s"))):
        t = trace("on-" + name)
        for when, source, kind, content in lines:
            t.put(when, source, kind, content, **(own if source == "probe.b" else {"timeUncertaintyMs": 0}))
        t.op(200, "closed", outcome="SIGNED")
        case("on-" + name, less_missing(t.texts()), proc("rule", ("rule", form)), [want], CODES.get(want["verdict"], 1),
             "Was the negative clamp on at all when the positive one went on?")


    said = lambda when, what: (when, "operator", *what)
    lost_line("on-then", (said(6, positive(True)), (20, *LOST), said(41, negative(True)), said(73, negative(False)), said(91, positive(False))),
              'comes_first { first: "clamp.negative.off" then: "clamp.positive.off" min_gap: "30 s" }', unproven("no_data", applies="unknown"),
              "Too soon after the negative, or off in the gap before that was ever on.")


def held_until_said_again():
    """What somebody said once holds until said otherwise; a lost line may have said otherwise."""
    legs = lambda when, angle: (when, "operator", "rigging", {"on": True, "point": "front_eye", "gear": ["soft-1"], "legsAngleDeg": angle})
    # By an instrument, so that a lost word hides no scene.
    before, on, off = ((when, "probe", *scene(on)) for when, on in ((-50, False), (20, True), (40, False)))
    pull = tuple((t / 2, "line", "sample", {"signal": "line.pull", "value": 3000}) for t in range(20, 120))
    leg = 'limit_in_phase { phase: "set" quantity: "line.leg_pull" at_most: "4 kN" sustained: "1 s" longest_gap: "5 s" }'
    angle = 'limit_in_phase { phase: "set" quantity: "rigging.legs_angle" at_most: "90 deg" sustained: "1 s" }'
    # 3 kN over two legs 60 degrees apart: 3 / (2 cos 30 deg) = 1.732 kN in each.
    within = expect("rule", "met", best=2.268, tol=0.002, tol_best_only=True, unit="kN")
    for name, form, more, want in (
            ("leg", leg, (), within), ("leg-lost", leg, ((12, *LOST),), unproven("no_data", unit="kN")),
            ("leg-again", leg, ((12, *LOST), legs(15, 60)), within), ("leg-after", leg, ((45, *HERE), (50, *LOST)), within),
            ("leg-late", leg, ((25, *HERE), (30, *LOST), legs(45, 60)), unproven("no_data", unit="kN")),
            ("angle", angle, (), expect("rule", "met", best=30, tol=0.01, tol_best_only=True, unit="deg")),
            ("angle-lost", angle, ((12, *LOST),), unproven("no_data", unit="deg"))):
        lost_line("held-" + name, (before, legs(8, 60), on, off, *(pull if "leg_pull" in form else ()), *more), form, want,
                  "The angle between the legs as it was last said.", SET, rule="leg" if "leg_pull" in form else "included_angle")
    metres = (5, "operator", "isolation", {"metres": 20, "barrier": False})
    form = 'limit_in_phase { phase: "set" quantity: "isolation.distance" at_least: "15 m" sustained: "1 s" }'
    lost_line("held-distance-lost", (before, metres, (10, *LOST), on, off), form, unproven("no_data", unit="m"),
              "The distance as it was last said.", SET, naive=False)
    tilt = lambda when: (when, "operator", "deck", {"moving": False, "tiltDeg": 11})
    free = 'limit_in_phase { phase: "set" quantity: "line.pull" under: "line.free_roll" sustained: "1 s" longest_gap: "5 s" }'
    car = 'vehicle { id: "unknown" mass: "1640 kg" mass_sd: "25 kg" }\n'
    weak = tuple((t, s, k, dict(c, value=2300)) for t, s, k, c in pull)
    for name, more, want in (("tilt", (), expect("rule", "met", best=3.137, tol=0.002, tol_best_only=True, unit="kN")),
                             ("tilt-lost", ((12, *LOST),), unproven("no_data"))):
        lost_line("held-" + name, (before, tilt(5), on, off, *weak, *more), free, want, "The deck's tilt as it was last said.", SET, car)


def hole_of_the_rope():
    """Form 6: in a hole the winch may go on at its line speed, which is added to the high end only; deviated stays
    decidable, met may not, however short the hole."""
    def way(name, metres, hole, want):
        t = trace(name)
        t.op(-20, "rigging", on=True, point="front_eye", gear=["soft-1"])
        t.op(0, "vehicleMode", mode="ROLLING")
        for i in range(-10, 60):
            if not hole[0] <= i < hole[1]:
                t.sample(i + 0.5, "line", "line.out", round(30 - metres * min(max(i / 40, 0), 1), 3))
                t.sample(i + 0.5, "line", "line.pull", 2500 if 0 <= i < 40 else 60)
        t.op(50, "vehicleMode", mode="PARKED")
        t.op(61, "closed", outcome="SIGNED")
        form = 'total_in_phase { phase: "rolling" quantity: "vehicle.rolled" at_most: "10 m" longest_gap: "3 s" }'
        case(name, t.texts(), proc("rule", ("rule", form), phases=ROLLING), [want], CODES.get(want["verdict"], 1),
             f"{metres} m by the rope, unread for {hole[1] - hole[0]} s.",
             'truck { id: "truck-7" winch { line_speed: "6 m/min" line_rating: "17.8 kN" } }\n')

    way("rope-whole", 5, (0, 0), expect("rule", "met", best=5, tol=0.01, tol_best_only=True, unit="m"))
    way("rope-bridged", 5, (20, 22), expect("rule", "met", best=5, tol=0.01, tol_best_only=True, unit="m"))
    way("rope-hole", 5, (20, 26), unproven("no_data", unit="m"))
    way("rope-hole-far", 13, (20, 26), expect("rule", "deviated", best=-3, tol=0.01, tol_best_only=True, unit="m"))


def cited():
    """A finding cites the lines that decide it, each once."""
    photo = 'evidence_present { item: "photo.after:front" item: "photo.after:rear" item: "photo.after:left" at_least: 3 after: "arrived" }'
    film = {"sha256": digest("film"), "mediaType": "video/mp4", "when": "AFTER"}
    lost_line("cites-film", ((10, *ARRIVED), (20, "operator", "film", film)), photo,
              expect("rule", "met", best=0, lo=0, hi=0, unit="items", basis="pictured", cites_only=["operator:2 closes", "operator:3 critical"]),
              "A film is several views and one piece of evidence.")
    clocked("cites-unsure", 'evidence_present { item: "secured.checked" at_least: 2 after: "arrived" }',
            ((10, *ARRIVED), (11, "desk", *CHECK[1:]), (30, "desk", *CHECK[1:])),
            unproven("clock_doubt", best=-1, lo=-1, hi=0, unit="items", cites_only=["operator:2 closes", "desk:2 critical"]),
            "One check is surely after the arrival, the other by a clock 2 s off.", "")


def shown():
    """What is shown of what stays open."""
    # The clocks of two probes cannot be compared: the times shown lie 20 s apart, whatever that says.
    clock = lambda source: {"clock": source}
    lead = lambda lead, on: ("clamp", {"lead": lead, "on": on, "at": "VEHICLE", "point": "TERMINALS"})
    t = trace("shown-apart")
    for when, source, what in ((-40, "probe.a", lead("NEGATIVE", True)), (-30, "probe.b", lead("POSITIVE", True)),
                               (10, "probe.a", lead("NEGATIVE", False)), (30, "probe.b", lead("POSITIVE", False))):
        t.put(when, source, *what, **clock(source))
    t.op(60, "closed", outcome="SIGNED")
    form = 'comes_first { first: "clamp.negative.off" then: "clamp.positive.off" min_gap: "4 s" }'
    case("shown-apart", t.texts(), proc("rule", ("rule", form)), [unproven("clock_doubt", best=16, lo=None, hi=None, unit="s")], 1,
         "Two clocks that nobody has compared.", naive=False)
    lit, dark = ("desk", "screen", {"awake": True}), ("desk", "screen", {"awake": False})
    lost_line("shown-maybe", ((5, *dark), (10, "operator", *scene(False)), (20, *HERE), (30, *LOST), (60, *HERE), (70, *lit), (80, *dark),
                              (85, "operator", *scene(True)), (95, "operator", *scene(False))),
              'never_together { state: "scene.set" with: "screen.awake" tolerate: "8 s" }', unproven("no_data", best=8, hi=8, unit="s"),
              "They may have been together in the gap, and surely were not.", naive=False)
    lost_line("shown-first", ((10, "operator", *scene(True)), (50, *CHECK), (90, "operator", *scene(False))),
              'recheck_every { phase: "set" check: "secured.checked" distance: "vehicle.rolling_distance" }',
              unproven("no_data", best=None, lo=None, hi=None, cites_only=["operator:2 opens", "operator:3 critical"]),
              "No file gives the limit: the first leg is shown.", SET, naive=False)


def on_both_sides():
    """Margins that just touch 0."""
    # Lit 2 s before the scene is cleared by a clock 2 s off: together for 0 to 4 s where none is allowed.
    clocked("clock-touch", 'never_together { state: "scene.set" with: "screen.awake" tolerate: "0 s" }',
            ((10, "operator", *scene(True)), (40, "operator", *scene(False)), (38, "desk", "screen", {"awake": True}),
             (60, "desk", "screen", {"awake": False})), unproven("clock_doubt", best=-2, lo=-4, hi=0, unit="s"),
            "The one ends about when the other begins.", "")
    # The claim by a clock 2 s off, a second before the check: they may be at one instant.
    clocked("agree-touch", 'sources_agree { phase: "job" claim: "arrived" with: "secured.checked" within: "5 s" }',
            ((10, "desk", *ARRIVED[1:]), (11, *CHECK)), expect("rule", "met", best=4, lo=2, hi=5, tol=0, unit="s"),
            "Is the claim borne out within 5 s?", "")
    # A second check that hides in between keeps a met back; from this wait, which was long enough, it takes nothing.
    lost_line("wait-touch", ((10, *ARRIVED), (30, *HERE), (40, *LOST), (50, *HERE), (70, *CHECK)),
              'wait_between { from: "arrived" to: "secured.checked" at_least: "60 s" }', unproven("no_data", best=0, lo=0, hi=0, unit="s"),
              "Just as long as wanted, with a line lost on the way.")
    # A tag that goes 12 m beside a rope that runs 6, where 2 are allowed: they accuse nobody, by the smallest step.
    for name, bound, hi in (("under", "under", 0.001), ("most", "at_most", 0)):
        t = trace("apart-" + name)
        t.op(0, "vehicleMode", mode="ROLLING")
        for i in range(-30, 61):
            t.sample(i, "line", "line.pull", 2500 if 2 <= i < 35 else 60)
            t.sample(i, "line", "line.out", round(30 - 6 * min(max(0.0, (i - 5) / 26), 1.0), 3))
        put_tag(t, -30, 60, 3, lambda s: 12 * min(max(0.0, (s - 5) / 26), 1.0), lambda s: 12 / 26 if 5 <= s < 31 else 0.0)
        t.op(40, "vehicleMode", mode="PARKED")
        t.op(60, "closed", outcome="SIGNED")
        form = f'total_in_phase {{ phase: "rolling" quantity: "vehicle.rolled" {bound}: "2 m" longest_gap: "3 s" }}'
        case("apart-" + name, t.texts(), proc("rule", ("rule", form), phases=ROLLING),
             [unproven("sources_disagree", best=-4, hi=hi, unit="m")], 1, "By the tag twice as far as by the rope.", naive=False)


def moved_clear_just():
    """An overlap as long as is tolerated is no harm; one that may be longer is excused where the truck surely moved clear."""
    def clear(name, lines, want):
        t = trace("clear-" + name)
        t.put(1, "gps.truck", "truckMotion", {"moving": False})
        t.op(5, "scene", set=True)
        t.put(20, "gps.truck", "truckMotion", {"moving": True})
        for when, kind, content in lines:
            t.put(when, "gps.truck" if kind == "truckMotion" else "operator", kind, content)
        for i in range(2, 130):
            t.put(i + 0.4, "gps.truck", "fix", {**fix(0, 2.0), "speedMps": 2.5 if 20 <= i < 35 else 0.0})
        t.op(140, "closed", outcome="SIGNED")
        form = 'never_together { state: "scene.set" with: "truck.moving" tolerate: "5 s" move_clear: "100 m under 10 km/h" }'
        case("clear-" + name, less_missing(t.texts()), proc("rule", ("rule", form)), [want], CODES[want["verdict"]],
             "Moved on a little with the scene set.", naive=False)

    stop = lambda when: (when, "truckMotion", {"moving": False})
    clear("just", (stop(25),), exact("rule", "met", 0))
    clear("maybe", ((22, "note", {"text": "here"}), (24, "note", {"text": "missing"}), stop(35)), expect("rule", ""))


def listened():
    """Settled: nothing is missing of a source that the rule listens to; what else is missing does not matter."""
    scenes = ((5, "operator", *scene(True)), (200, "operator", *scene(False)))
    way = tuple((t, "gps.truck", "fix", {**fix(0, 2.0), "speedMps": 1.0}) for t in range(10, 220, 5))
    lost = ((240, "gps.truck", "note", {"text": "missing"}), (250, "gps.truck", "note", {"text": "here"}))
    form = 'recheck_every { phase: "set" check: "secured.checked" %s }'
    for name, words, settled in (("time", 'time: "300 s" parked_counts: true', True), ("way", 'distance: "1 km"', False),
                                 ("first-way", 'time: "300 s" parked_counts: true first_distance: "1 km"', False),
                                 ("first-time", 'first_time: "300 s" distance: "9 km" parked_counts: true', False)):
        lost_line("settled-" + name, (*scenes, *way, *lost), form % words,
                  expect("rule", "met", settled=settled), "A line of the truck's receiver is lost after all is done.", SET, naive=False)


def make():
    cited()
    shown()
    on_both_sides()
    moved_clear_just()
    listened()
    contradicted_strap()
    straps_in_a_gap()
    two_reasons()
    anchors_nobody_saw()
    on_at_all()
    held_until_said_again()
    hole_of_the_rope()
