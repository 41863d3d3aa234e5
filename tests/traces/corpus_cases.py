"""Small cases with a procedure of their own, one trap of the rule semantics each, and the example of
the vocabulary. Expectations are the written ones; their arithmetic is repeated beside them.
"""

import json
import math

from trace_kit import (U, TagNoise, Trace, LAT0, LAT_M, LON0, LON_M, digest, expect, write_case, write_file, z_of)

BASE = "2026-03-02T10:00:00Z"
FAR = "written rule semantics, corpus of tricky traces "
PRACTICE = 'origin { text: "common practice, no source" standing: PRACTICE }'


def proc(name, *rules, phases=""):
    return f'id: "{name}" version: "1.0" title: "{name}"\n{phases}' + "".join(
        f'rule {{ id: "{rule}" title: "{rule}" {PRACTICE}\n  {form} }}\n' for rule, form in rules)


ORDER = proc("order", ("order", 'comes_first { first: "clamp.negative.off" then: "clamp.positive.off" }'))
ROLLING = 'phase { id: "rolling" opens: "rolling.on" closes: "rolling.off" longest: "5 min" }\n'
DRIVING = 'phase { id: "driving" opens: "truck.moving.on" closes: "truck.moving.off" longest: "4 h" }\n'
SPEED_FORM = ('limit_in_phase { phase: "rolling" quantity: "vehicle.speed" under: "5 km/h" sustained: "1 s" '
              'longest_gap: "3 s" }')
TOTAL_FORM = 'total_in_phase { phase: "rolling" quantity: "vehicle.rolled" under: "10 m" longest_gap: "3 s" }'
SPEED = proc("speed", ("speed", SPEED_FORM), phases=ROLLING)
TOTAL = proc("total", ("distance", TOTAL_FORM), phases=ROLLING)
STRENGTH = proc("strength", ("strength", 'enough_strength { phase: "driving" of: "tiedowns" times_mass: "0.5" }'),
                phases=DRIVING)
PHOTOS = proc("photos", ("photos_before", 'evidence_present { item: "photo.before:front" item: "photo.before:rear" '
                         'item: "photo.before:left" item: "photo.before:right" at_least: 4 before: "first_touch" }'))


def case(name, lines, procedure, expected, exit_code, about, register="", **more):
    write_file(name, "procedure.textproto", procedure)
    if register:
        write_file(name, "register.textproto", register)
    write_case(name, lines, {
        "about": about, "source": FAR + name.split("-")[0].rstrip("ab"), "procedures": ["procedure.textproto"],
        "register": "register.textproto" if register else "", "exit": exit_code, "expected": expected, **more})


def trace(name, **more):
    t = Trace(name, BASE, **more)
    t.op(-60, "opened", procedures=["p"], vehicle="unknown", truck="truck-7", operator="card-3f")
    return t


def clamp(t, when, lead, on, source="clamp", **common):
    t.put(when, source, "clamp", {"lead": lead, "on": on, "at": "VEHICLE", "point": "TERMINALS"}, **common)


def both_on(t, source="clamp", **common):
    clamp(t, -40, "POSITIVE", True, source, **common)
    clamp(t, -30, "NEGATIVE", True, source, **common)


def order_cases():
    def order(name, *offs, expected, code, about, **more):
        t = trace(name, **more.pop("trace", {}))
        both_on(t)
        for when, lead, on in offs:
            clamp(t, when, lead, on)
        t.op(300, "closed", outcome="SIGNED")
        lines = more.pop("lines", lambda texts: texts)(t.texts())
        case(name, lines, ORDER, [expected], code, about, **more)

    plus20 = expect("order", "met", best=20, lo=20, hi=20, tol=0.001, unit="s", basis="measured")
    good = ((0, "NEGATIVE", False), (20, "POSITIVE", False))
    order("T01", *good, expected=plus20, code=0, about="Negative off 10:00:00, positive 10:00:20.")
    order("T02", (0, "POSITIVE", False), (15, "NEGATIVE", False), code=2, about="Reversed by 15 s; cites both.",
          expected=expect("order", "deviated", best=-15, lo=-15, hi=-15, tol=0.001, unit="s", basis="measured",
                          cites=["clamp:3", "clamp:4"]))
    order("T05", (20, "POSITIVE", False), code=2, about="Negative never off; nothing missing through positive off.",
          expected=expect("order", "deviated", best=None, lo=None, hi=None, unit="s"))
    order("T07", (0, "NEGATIVE", False), (10, "NEGATIVE", True), (20, "POSITIVE", False), code=2,
          about="Negative off, back on, positive off: in force, not once.", expected=expect("order", "deviated", unit="s"))
    # The same line twice; the second reading must give the very bytes of the first.
    order("T09", *good, expected=plus20, code=0, about="The whole batch uploaded twice.", lines=lambda x: x + x,
          same_output_as="T09-once")
    order("T09-once", *good, expected=plus20, code=0, about="The batch of T09, once.",
          lines=lambda x: [line.replace('"T09-once"', '"T09"') for line in x])
    order("T09-order", *good, expected=plus20, code=0, about="The batch of T09, last line first, empty lines between.",
          lines=lambda x: [y for line in reversed(x) for y in (line.replace('"T09-order"', '"T09"'), "")],
          same_output_as="T09-once")

    t = Trace("T03", BASE)
    opened = {"procedures": ["p"], "vehicle": "unknown", "truck": "truck-7", "operator": "card-3f"}
    t.put(-60, "operator", "opened", opened, timeUncertaintyMs=100)
    t.put(300, "operator", "closed", {"outcome": "SIGNED"}, timeUncertaintyMs=100)
    for source, lead, off in (("probe.a", "NEGATIVE", 0), ("probe.b", "POSITIVE", 0.8)):
        stamp = {"clock": source, "timeUncertaintyMs": 2000}
        clamp(t, -40, lead, True, source, **stamp)
        clamp(t, off, lead, False, source, **stamp)
    half = math.sqrt(2.0 ** 2 + 2.0 ** 2)  # 2.83
    case("T03", t.texts(), ORDER,
         [expect("order", "unproven", reason="clock_doubt", best=0.8, lo=0.8 - half, hi=0.8 + half, tol=0.002, unit="s")],
         1, "Two devices, clocks +-2 s each, 0.8 s apart the right way.")

    other_clocks_and_bounces()


def other_clocks_and_bounces():
    t = trace("T08")
    t.op(-50, "note", text="jaws bounce at the negative")
    for jaw, off in (("pos", 20.0), ("neg", None)):
        for i in range(-45, 301):
            shut = i >= -40 and (i < 0 if jaw == "neg" else i < off)
            t.sample(i, "clamp", f"clamp.{jaw}.contact", 1 if shut else 0)
    for ms, value in ((50, 1), (100, 0), (150, 1), (200, 0), (250, 1), (300, 0)):  # 3 bounces in 300 ms
        t.sample(ms / 1000, "clamp", "clamp.neg.contact", value)
    t.op(299, "closed", outcome="SIGNED")
    # Dated at its first edge; whether the cluster's first or last one, both lie within 0.3 s.
    case("T08", t.texts(), ORDER, [expect("order", "met", best=19.85, tol=0.151, tol_best_only=True, unit="s",
                                          basis="measured")], 0, "Clamp bounces 3 times in 300 ms: one event.")

    t = trace("T10")
    for source, lead, off in (("probe.a", "NEGATIVE", 0), ("probe.b", "POSITIVE", 20)):
        clamp(t, -40, lead, True, source)
        clamp(t, off, lead, False, source)
    t.op(300, "closed", outcome="SIGNED")
    lines = t.texts()
    other = [line for line in lines if '"probe.a","seq":2' in line][0].replace('"on":false', '"on":true')
    case("T10", lines + [other], ORDER, [expect("order", "unproven", reason="sources_disagree")], 1,
         "Same source and seq, other content: that source is unknown from there on.")

    t = Trace("T45", "2017-01-01T00:00:00Z")
    t.op(-60, "opened", procedures=["p"], vehicle="unknown", truck="truck-7", operator="card-3f")
    both_on(t)
    clamp(t, -0.5, "NEGATIVE", False)
    clamp(t, 20, "POSITIVE", False)
    t.op(300, "closed", outcome="SIGNED")
    # IERS Bulletin C 52: the second 2016-12-31T23:59:60 existed. Taken as 23:59:59.999999.
    lines = [line.replace("2016-12-31T23:59:59.5Z", "2016-12-31T23:59:60Z") for line in t.texts()]
    assert any(":60Z" in line for line in lines)
    case("T45", lines, ORDER, [expect("order", "met", best=20.000001, tol=0.001, unit="s")], 0, "A leap second.")


def fixes(t, spans, dt=1.0, sd=0.1):
    """(start, end, km/h) spans of tag fixes going north; positions follow the speed exactly."""
    north = 0.0
    for start, end, kmh in spans:
        for i in range(round((end - start) / dt)):
            t.put(start + i * dt, "gps.tag", "fix", {
                "latDeg": round(LAT0 + north / LAT_M, 8), "lonDeg": LON0, "speedMps": round(kmh / 3.6, 4),
                "courseDeg": 0, "hSdM": 2.5, "speedSdMps": sd, "mode": 3})
            north += kmh / 3.6 * dt


def mode(t, when, word):
    t.op(when, "vehicleMode", mode=word)


def speed_cases():
    u, z = U * 0.1 * 3.6, z_of(300, 1.5) * 0.1 * 3.6  # s.d. 0.1 m/s; bins of 1 s, tau 1.5 s: s is the s.d.

    def speed(name, spans, expected, code, about, dt=1.0, end=40, pulls=False):
        t = trace(name)
        mode(t, 0, "ROLLING")
        fixes(t, spans, dt)
        if pulls:
            for i in range(-5, end + 6):
                t.sample(i, "line", "line.pull", 2500 if i < end else 60)
        mode(t, end, "PARKED")
        # A hole after the last line sample could hide a pull, so the job ends with them.
        t.op(end + 6 if pulls else 300, "closed", outcome="SIGNED")
        case(name, t.texts(), SPEED, [expected], code, about)

    def met(margin):
        return expect("speed", "met", best=margin, lo=margin - u, hi=margin + z, tol=0.01, unit="km/h", basis="measured")

    def dev(margin):
        return expect("speed", "deviated", best=margin, lo=margin - u, hi=margin + z, tol=0.01, unit="km/h",
                      basis="measured")

    speed("T16", [(-5, 45, 3.0)], met(2.0), 0, "Rolling at 3.0 km/h, s.d. 0.1 m/s.")
    # One of ten samples in a bin: (9 x 3 + 9) / 10 = 3.6 km/h.
    speed("T17", [(-5, 20, 3.0), (20, 20.1, 9.0), (20.1, 45, 3.0)], met(1.4), 0, "One 0.1 s sample says 9 km/h.", dt=0.1)
    speed("T18", [(-5, 20, 3.0), (20, 24, 6.5), (24, 45, 3.0)], dev(-1.5), 2, "6.5 km/h for 4 s.")
    none = expect("speed", "unproven", reason="no_data")
    speed("T20", [(-5, 16, 2.0), (23, 45, 2.0)], none, 1, "An 8 s hole while the line pulls.", pulls=True)
    speed("T21", [(-5, 16, 2.0), (23, 28, 2.0), (28, 33, 7.0), (33, 45, 2.0)], dev(-2.0), 2,
          "The same hole, but 7 km/h for 5 s elsewhere.", pulls=True)
    cut = expect("speed", "unproven", reason="cut_short")
    speed("T43", [(-5, 12, 3.0)], cut, 1, "Phase opened, the tag's battery dies.")
    speed("T43-proven", [(-5, 4, 3.0), (4, 9, 7.0), (9, 12, 3.0)], dev(-2.0), 2,
          "The battery dies after a deviation was proven.")

    both = proc("none", ("speed", SPEED_FORM), ("distance", TOTAL_FORM), phases=ROLLING)
    for name, parked in (("T42", False), ("T42-parked", True)):
        t = trace(name)
        if parked:
            mode(t, 0, "PARKED")
        t.op(300, "closed", outcome="SIGNED")
        case(name, t.texts(), both, [expect("speed", ""), expect("distance", "")], 0,
             "Rolling never entered: applies no, not met.")


def total_cases():
    # One chord, +-1.645 sd sqrt 2 = +-1.7 m.
    half = 1.7
    register = f'sensor {{ id: "rope" channel: "line.out" sd: "{half / U / math.sqrt(2):.4f} m" tau: "200 ms" certificate: "C-1" valid_until: "2026-12-31" }}\n'
    for name, metres, verdict, reason, code in (("T22", 7.0, "met", "", 0), ("T23", 9.2, "unproven", "too_close", 1),
                                                ("T24", 13.0, "deviated", "", 2)):
        t = trace(name)
        mode(t, 0, "ROLLING")
        for i in range(-5, 46):
            t.sample(i, "line", "line.pull", 2500 if 2 <= i < 35 else 60)
            t.sample(i, "line", "line.out", round(20 - metres * min(max(0.0, (i - 5) / 26), 1.0), 3))
        mode(t, 40, "PARKED")
        t.op(46, "closed", outcome="SIGNED")  # with the last samples: a hole could hide a pull
        m = 10 - metres
        case(name, t.texts(), TOTAL, [expect("distance", verdict, reason=reason, best=m, lo=m - half, hi=m + half,
                                             tol=0.012, unit="m", basis="measured")], code,
             f"Roll {metres} m +-1.7 by one chord of a rope counter.", register)

    t = trace("T26")
    mode(t, 0, "ROLLING")
    noise, last, naive = TagNoise(26, 2.0, position=(2.5, 20.0, 0.5)), None, 0.0
    for i in range(-5, 906):
        (north, east), (vn, ve) = noise.step()
        t.put(2.0 * i, "gps.tag", "fix", {
            "latDeg": round(LAT0 + north / LAT_M, 7), "lonDeg": round(LON0 + east / LON_M, 7),
            "speedMps": round(math.hypot(vn, ve), 2), "hSdM": 2.5, "speedSdMps": 0.1, "mode": 3})
        if last:
            naive += math.hypot(north - last[0], east - last[1])
        last = (north, east)
    assert naive > 1000, naive  # what a sum of fixes would say
    mode(t, 1800, "PARKED")
    t.op(1900, "closed", outcome="SIGNED")
    case("T26", t.texts(), TOTAL, [expect("distance", "met", best=10, tol=0.5, tol_best_only=True, unit="m",
                                          basis="measured")], 0, "Standing 30 min in 2.5 m noise: 0 m.")


def strength_cases():
    register = "".join(f'gear {{ id: "strap-{n}" kind: WEBBING width: "50 mm" wll: "600 kg" anchor_wll: "2000 kg" '
                       f'in_service: "2025-01-10" inspect_by: "2027-01-10" }}\n' for n in (1, 2, 3, 4))
    wheels = ("LF", "RF", "LR", "RR")

    def strength(name, sd, expected, code, about, off=None):
        t = Trace(name, BASE)
        t.op(-60, "opened", procedures=["p"], vehicle="unknown", truck="truck-7", operator="card-3f", massKg=4700,
             massSdKg=sd)
        t.put(-59, "gps.truck", "truckMotion", {"moving": False})
        for n, wheel in enumerate(wheels):
            t.op(-50 + 10 * n, "tiedown", on=True, gear=f"strap-{n + 1}", wheel=wheel, path="ACROSS")
        if off:
            t.op(off[0], "tiedown", on=False, gear="strap-1", wheel="LF", path="ACROSS")
            t.op(off[1], "tiedown", on=True, gear="strap-1", wheel="LF", path="ACROSS")
        t.put(60, "gps.truck", "truckMotion", {"moving": True})
        t.put(600, "gps.truck", "truckMotion", {"moving": False})
        t.op(700, "closed", outcome="SIGNED")
        case(name, t.texts(), STRENGTH, [expected], code, about, register)

    strength("T32", 0, expect("strength", "met", best=50, lo=50, hi=50, tol=0.001, unit="kg", basis="said"), 0,
             "4 x 600 kg across, 4,700 kg exact: 2,400 of 2,350.")
    sd = round(160 / U, 4)
    strength("T33", sd, expect("strength", "unproven", reason="too_close", best=50, lo=-30, hi=130, tol=0.002, unit="kg"),
             1, "The same, mass +-160 kg.")
    strength("T35", 0, expect("strength", "deviated", best=-550, lo=-550, hi=-550, tol=0.001, unit="kg", basis="said",
                              at="2026-03-02T10:03:20.000000Z"),
             2, "A strap off for 20 s while moving, then on: 1,800 of 2,350, not healed.", off=(200, 220))


def photo_cases():
    def photo(t, when, view, source="operator", **common):
        t.put(when, source, "photo", {"view": view, "when": "BEFORE", "sha256": digest(view), "mediaType": "image/jpeg"},
              **common)

    def touch(t):
        t.op(120, "rigging", on=True, point="front_eye", gear=["soft-1"], legsAngleDeg=0)
        t.op(300, "closed", outcome="SIGNED")

    t = trace("T39")
    for when, view in ((0, "front"), (10, "rear"), (20, "left"), (140, "right")):
        photo(t, when, view)
    touch(t)
    case("T39", t.texts(), PHOTOS, [expect("photos_before", "deviated", best=-1, lo=-1, hi=-1, tol=0, unit="items")], 2,
         "Four photos before the first touch wanted, one taken after.")

    day = 86400
    for name, known in (("T40a", True), ("T40b", False)):
        t = trace(name)
        for when, view in ((0, "front"), (10, "rear"), (20, "left"), (30, "right")):
            photo(t, when + day, view, "camera", clock="cam")  # shown a day late
        if known:
            t.op(60, "clockOffset", clock="cam", offsetMs=day * 1000, sdMs=50)
        touch(t)
        case(name, t.texts(), PHOTOS,
             [expect("photos_before", "met", best=0, tol=0, unit="items", basis="pictured") if known else
              expect("photos_before", "unproven", reason="clock_doubt")], 0 if known else 1,
             "Camera clock wrong by a day, offset %s." % ("known" if known else "unknown"))


def vocabulary_example():
    """The example trace, load file and register as the vocabulary prints them."""
    write_file("example", "load.textproto", '''id: "load"  version: "1.0"  title: "Winch on"
phase { id: "rolling" opens: "rolling.on" closes: "rolling.off" longest: "5 min" }
phase { id: "driving" opens: "truck.moving.on" closes: "truck.moving.off" longest: "4 h" }
caution { id: "C1" say: "Nobody in line with a loaded line." }
step { id: "S1" say: "Draw the line taut" done_by: "line.taut.on" caution: "C1" }
rule { id: "R01" title: "Line taut before free rolling" origin { text: "common practice, no source" standing: PRACTICE } comes_first { first: "line.taut.on" then: "mode.rolling.on" } }
rule { id: "R02" title: "Walking pace on own wheels" origin { text: "maker's recovery guide" standing: MAKER } warn_at: "80 %"
  limit_in_phase { phase: "rolling" quantity: "vehicle.speed" under: "vehicle.rolling_speed or 5 km/h" sustained: "1 s" longest_gap: "3 s" } }
rule { id: "R03" title: "Short way on own wheels" origin { text: "maker's recovery guide" standing: MAKER } warn_at: "90 %"
  total_in_phase { phase: "rolling" quantity: "vehicle.rolled" under: "vehicle.rolling_distance or 10 m" longest_gap: "3 s" } }
rule { id: "R06" title: "Tiedowns strong enough" origin { text: "49 CFR 393.106(d)" standing: PUBLISHED } unless: "abandoned" enough_strength { phase: "driving" of: "tiedowns" times_mass: "0.5" least_count: 4 } }
rule { id: "R07" title: "Photos before touching" origin { text: "common practice, no source" standing: PRACTICE }
  evidence_present { item: "photo.before:front" item: "photo.before:rear" item: "photo.before:left" item: "photo.before:right" at_least: 4 before: "first_touch" } }
''')
    write_file("example", "register.textproto", '''vehicle { id: "hatch-1" mass: "1500 kg" mass_sd: "20 kg" length: "4.1 m" wheelbase: "2.6 m" front_overhang: "0.8 m" rear_overhang: "0.7 m" clearance: "0.14 m" low_voltage: "12 V" boost_min: "11 V" boost_max: "15 V" boost_point: TERMINALS wake_wait: "3 min"
  rolling_speed: "5 km/h" rolling_distance: "10 m" rolling_per: HANDLING driven: FRONT steer_by_wire: false wheel_covers: true deck_min: "5.5 m" free_rolling_name: "..." point { id: "front_eye" kind: TOW_EYE rating: "20 kN" gear: SOFT_SHACKLE gear: WEBBING } }
gear { id: "strap-1" kind: WEBBING width: "50 mm" wll: "910 kg" anchor_wll: "910 kg" in_service: "2025-01-10" inspect_by: "2027-01-10" }
gear { id: "soft-1" kind: SOFT_SHACKLE wll: "3000 kg" in_service: "2025-01-10" inspect_by: "2027-01-10" }
truck { id: "truck-7" gvwr: "11793 kg" deck_length: "6.4 m" deck_travel: "4.3 m" wheelbase: "5.2 m" front_scaled: "3600 kg" rear_scaled: "4200 kg" winch { line_speed: "6 m/min" line_rating: "17.8 kN" layer { number: 1 pull: "36 kN" length: "7.9 m" } } }
sensor { id: "load-cell-1" channel: "line.pull" sd: "30 N" tau: "200 ms" certificate: "C-17" valid_until: "2026-12-31" }
''')
    lines = '''{"time":"2026-03-02T10:00:00Z","job":"demo-1","source":"operator","seq":1,"clock":"truck","opened":{"procedures":["load"],"vehicle":"hatch-1","truck":"truck-7","operator":"card-3f","massKg":1500,"massSdKg":20}}
{"time":"2026-03-02T10:01:10Z","job":"demo-1","source":"operator","seq":2,"clock":"truck","photo":{"view":"front","when":"BEFORE","sha256":"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855","mediaType":"image/jpeg"}}
{"time":"2026-03-02T10:03:00Z","job":"demo-1","source":"operator","seq":3,"clock":"truck","rigging":{"on":true,"point":"front_eye","gear":["soft-1"],"legsAngleDeg":0}}
{"time":"2026-03-02T10:04:40Z","job":"demo-1","source":"operator","seq":4,"clock":"truck","line":{"state":"TAUT"}}
{"time":"2026-03-02T10:04:41.5Z","job":"demo-1","source":"line","seq":1,"clock":"truck","sample":{"signal":"line.pull","value":2600}}
{"time":"2026-03-02T10:05:00Z","job":"demo-1","source":"operator","seq":5,"clock":"truck","vehicleMode":{"mode":"ROLLING"}}
{"time":"2026-03-02T10:05:01Z","job":"demo-1","source":"gps.tag","seq":1,"clock":"truck","fix":{"latDeg":0.0000081,"lonDeg":0,"speedMps":0.9,"courseDeg":0,"hSdM":2.5,"speedSdMps":0.1,"mode":3}}
{"time":"2026-03-02T10:05:05Z","job":"demo-1","source":"operator","seq":6,"clock":"truck","vehicleMode":{"mode":"PARKED"}}
{"time":"2026-03-02T10:08:00Z","job":"demo-1","source":"operator","seq":7,"clock":"truck","tiedown":{"on":true,"gear":"strap-1","wheel":"LF","path":"SAME_SIDE"}}
{"time":"2026-03-02T10:40:00Z","job":"demo-1","source":"operator","seq":8,"clock":"truck","closed":{"outcome":"SIGNED"}}'''.split("\n")
    write_case("example", lines, {
        "about": "The vocabulary's example trace under its own load file.", "source": "vocabulary, offline judging",
        "procedures": ["load.textproto"], "register": "register.textproto", "exit": 2, "expected": [
            expect("R01", "met", best=20, lo=20, hi=20, tol=0.001, unit="s", basis="said"),
            # One fix in 5 s: the reason is not stated; the hole after it is ended by no later line.
            expect("R02", "unproven", reason=["no_data", "cut_short"]),
            expect("R03", "unproven"),
            expect("R06", "unproven", applies="unknown"),
            expect("R07", "deviated", best=-3, lo=-3, hi=-3, tol=0, unit="items", basis="pictured")]})
    assert all(json.loads(line) for line in lines)


def make():
    order_cases()
    speed_cases()
    total_cases()
    strength_cases()
    photo_cases()
    vocabulary_example()
