"""The invented fleet's jobs about jump starts.

The story of each job and its expected margins are the fleet's agreed scenario; the arithmetic from
masses, ratings and half-widths is repeated beside each expectation, by hand, never taken from the
program. Strength counts as 49 CFR 393.106(d). Times are mm:ss from arrival.
"""

from scenario_kit import (OTHERS, VOLT_S, Z_VOLTS, arrive, finish, open_job)
from trace_kit import U, Trace, at, bin_s, digest, expect, write_case, write_file


def jaws(t, start, end, on, step=1.0):
    """Contact samples of both jaws each `step`, with a sample at every edge.

    on: {"pos": [(on, off)], "neg": [...]}; times in seconds.
    """
    edges = sorted({e for spans in on.values() for span in spans for e in span if e is not None})
    times, next_at = [], start
    while next_at < end:
        times.append(next_at)
        later = [e for e in edges if next_at < e < next_at + step]
        next_at = later[0] if later else next_at + step
    for when in times:
        for jaw, spans in sorted(on.items()):
            closed = any(a <= when and (b is None or when < b) for a, b in spans)
            t.sample(when, "clamp", f"clamp.{jaw}.contact", 1 if closed else 0)


def volts(t, points, step=0.5):
    """Clamp volts each `step` through (time, volts) points: straight lines, a jump where times meet."""
    start, end = points[0][0], points[-1][0]
    for i in range(int((end - start) / step + 0.5)):
        now = start + i * step
        value = 0.0
        for (t0, v0), (t1, v1) in zip(points, points[1:]):
            if t0 <= now < t1:
                value = v0 + (v1 - v0) * (now - t0) / (t1 - t0)
        t.sample(now, "clamp", "clamp.volts", round(value, 2))


def boost_story(t, pos_on, neg_on, source_on, neg_off, pos_off, peak=14.4, end=None, volts_fall=None,
                contacts=True, step=1.0, start=None):
    """Source said off first, both clamps, source on, volts 9.8 -> 12.6 -> peak; off again."""
    t.op(at(source_on) - 30, "sourcePower", on=False, nominalVolts=12)
    t.op(at(source_on), "sourcePower", on=True, nominalVolts=12)
    first_off = min(at(neg_off), at(pos_off))
    if contacts:
        jaws(t, start if start is not None else at(pos_on) - 20, end,
             {"pos": [(at(pos_on), at(pos_off))], "neg": [(at(neg_on), at(neg_off))]}, step)
    fall = volts_fall if volts_fall is not None else first_off
    volts(t, [(at(pos_on), 0), (at(neg_on), 0), (at(neg_on), 9.8), (at(source_on), 9.8), (at(source_on), 12.6),
              (at(source_on) + 80, peak), (at(source_on) + 150, peak), (fall, 14.2), (fall, 0), (at(pos_off) + 20, 0)])


def window_up(limit_less_peak, **more):
    """u = 0.10 V; marginHi with the phase's z: bins of 1 s, tau 0.5 s, so s of a bin is the s.d."""
    return expect("window", "met" if limit_less_peak >= 0 else "deviated", best=limit_less_peak,
                  lo=limit_less_peak - U * VOLT_S, hi=limit_less_peak + Z_VOLTS * bin_s(VOLT_S, 0.5, 1.0), tol=0.012,
                  unit="V", basis="measured", **more)


def j101():
    t = Trace("J-101", "2026-11-16T08:12:00Z")
    open_job(t, ["boost"], "wrenlet", "OW-02", "-01:00")
    arrive(t, film="01:10")
    boost_story(t, "04:20", "04:31", "04:40", "08:05", "08:16", end=at("10:30"))
    t.op(at("06:55"), "screen", awake=True)
    t.op(at("07:20"), "driveReady", confirmed=True)
    t.op(at("09:00"), "photo", view="point:panel", when="AFTER", sha256=digest("J-101 panel"), mediaType="image/jpeg")
    finish(t, "10:30")
    write_case("J-101", t.texts(), {
        "about": "Clean boost of the Wrenlet: orders by jaw contacts, window from source on.",
        "source": "fleet scenario J-101", "procedures": ["boost"], "register": "fleet", "exit": 0, "others": OTHERS,
        "expected": [
            expect("order_on", "met", best=11, lo=11, hi=11, tol=0.001, unit="s", basis="measured"),
            expect("order_off", "met", best=11, lo=11, hi=11, tol=0.001, unit="s", basis="measured"),
            expect("ready_before_off", "met", best=45, tol=0.001, unit="s", basis="said"),  # 08:05 - 07:20
            expect("dwell", "met", best=70, lo=70, hi=70, tol=0.001, unit="s", basis="said"),  # 08:05 - 06:55
            window_up(0.6),  # 15.0 - 14.4
            expect("window_low", "met", best=1.6, lo=1.6 - U * VOLT_S, tol=0.03, unit="V", basis="measured"),
            expect("photos_before", "met", best=0, unit="items", tol=0, basis="pictured"),
            expect("photos_after", "met", best=0, unit="items", tol=0, basis="pictured")]})


CHARGER = '''# Charger delivery, the order of hand-over only. Common practice; the maker's guide goes first.
id: "charger-order"
version: "1.0"
title: "Charger delivery: order"
rule { id: "plugged_after_awake" title: "Car awake before it is plugged in" origin { text: "common practice, no source" standing: PRACTICE }
  comes_first { first: "screen.awake.on" then: "connector.in.on" } }
rule { id: "off_after_charging" title: "Car says charging before the source comes off" origin { text: "common practice, no source" standing: PRACTICE }
  comes_first { first: "charging.confirmed" then: "clamp.negative.off" } }
rule { id: "order_off" title: "Negative off before positive" origin { text: "common practice, no source" standing: PRACTICE }
  comes_first { first: "clamp.negative.off" then: "clamp.positive.off" } }
'''


def j103():
    t = Trace("J-103", "2026-11-16T10:40:00Z")
    open_job(t, ["charger-order"], "wrenlet", "OW-02")
    arrive(t, power="NONE")
    boost_story(t, "02:30", "02:41", "03:00", "07:00", "07:09", end=at("09:00"))
    t.op(at("04:50"), "screen", awake=True)
    t.op(at("05:40"), "connector", event="IN")
    t.op(at("06:20"), "charging", state="CONFIRMED")
    finish(t, "09:00")
    write_file("J-103", "charger-order.textproto", CHARGER)
    write_case("J-103", t.texts(), {
        "about": "Clean charger delivery, Wrenlet empty: awake, plugged, charging by the car's word, then off.",
        "source": "fleet scenario J-103", "procedures": ["charger-order.textproto"], "register": "fleet", "exit": 0,
        "others": OTHERS, "expected": [
            expect("plugged_after_awake", "met", best=50, tol=0.001, unit="s", basis="said"),
            expect("off_after_charging", "met", best=40, tol=0.001, unit="s", basis="said"),
            expect("order_off", "met", best=9, lo=9, hi=9, tol=0.001, unit="s", basis="measured")]})


def j105_lines(t, contacts=True, step=1.0, end=None):
    """Leads off in the wrong order: positive 07:41, negative 07:55; volts fall 07:41.4."""
    boost_story(t, "03:10", "03:22", "03:40", "07:55", "07:41", end=end, volts_fall=at("07:41.4"), contacts=contacts,
                step=step)
    t.op(at("06:05"), "screen", awake=True)
    t.op(at("06:40"), "driveReady", confirmed=True)
    if not contacts:
        for when, lead, on in (("03:10.0", "POSITIVE", True), ("03:22.0", "NEGATIVE", True),
                               ("07:41.0", "POSITIVE", False), ("07:55.0", "NEGATIVE", False)):
            t.op(at(when), "clamp", lead=lead, on=on, at="VEHICLE", point="TERMINALS")
    t.op(at("08:40"), "photo", view="point:panel", when="AFTER", sha256=digest(t.job + " panel"),
         mediaType="image/jpeg")


def j105():
    for case, contacts, basis in (("J-105", True, "measured"), ("V5", False, "said")):
        t = Trace(case, "2026-11-17T09:05:00Z")
        open_job(t, ["boost"], "cartwell", "OW-03")
        arrive(t)
        j105_lines(t, contacts, end=at("10:00"))
        finish(t, "10:00")
        write_case(case, t.texts(), {
            "about": "Leads off in the wrong order, Cartwell" + ("." if contacts else ", without jaw contacts."),
            "source": "fleet scenario J-105" if contacts else "fleet scenario V5", "procedures": ["boost"],
            "register": "fleet", "exit": 2, "others": OTHERS, "expected": [
                expect("order_off", "deviated", best=-14, lo=-14, hi=-14, tol=0.001, unit="s", basis=basis),
                expect("order_on", "met", best=12, tol=0.001, unit="s", basis=basis)]})


def j108():
    t = Trace("J-108", "2026-11-17T13:30:00Z")
    open_job(t, ["boost"], "wrenlet", "OW-02")
    arrive(t)
    t.op(at("04:10"), "sourcePower", on=False, nominalVolts=24)
    jaws(t, at("04:00"), at("05:00"), {"pos": [(at("04:20"), None)], "neg": [(at("04:31"), None)]})
    t.op(at("04:40"), "sourcePower", on=True, nominalVolts=24)
    volts(t, [(at("04:20"), 0), (at("04:31"), 0), (at("04:31"), 11.2), (at("04:40"), 11.2), (at("04:40"), 25.8),
              (at("04:49"), 25.8), (at("04:49"), 11.2), (at("05:00"), 11.2)])
    t.op(at("04:49"), "sourcePower", on=False, nominalVolts=24)
    t.op(at("05:00"), "abandoned", words="source was a 24 V one; taken off")
    write_case("J-108", t.texts(), {
        "about": "24 V source on a 12 V car: 25.8 V for 9 s, the operator states 24 V, taken off, job abandoned.",
        "source": "fleet scenario J-108", "procedures": ["boost"], "register": "fleet", "exit": 2, "others": OTHERS,
        "expected": [window_up(-10.8),  # 15.0 - 25.8
                     expect("ready_before_off", ""), expect("order_off", ""), expect("photos_after", "")]})


def v6():
    t = Trace("V6", "2026-11-17T15:10:00Z")
    open_job(t, ["boost"], "hauberk", "OW-04")
    arrive(t)
    for when, lead, on, point in (
            ("02:30", "POSITIVE", True, "LID_LEAD"), ("02:40", "NEGATIVE", True, "LID_LEAD"),
            ("03:36", "NEGATIVE", False, "LID_LEAD"), ("03:44", "POSITIVE", False, "LID_LEAD"),
            ("04:20", "POSITIVE", True, "TERMINALS"), ("04:31", "NEGATIVE", True, "TERMINALS"),
            ("08:05", "NEGATIVE", False, "TERMINALS"), ("08:16", "POSITIVE", False, "TERMINALS")):
        t.op(at(when), "clamp", lead=lead, on=on, at="VEHICLE", point=point)
    t.op(at("02:50"), "sourcePower", on=True, nominalVolts=12)  # fed 40 s
    t.op(at("03:30"), "sourcePower", on=False, nominalVolts=12)
    t.op(at("04:40"), "sourcePower", on=True, nominalVolts=12)
    volts(t, [(at("02:30"), 0), (at("02:50"), 0), (at("02:50"), 12.9), (at("03:30"), 12.9), (at("03:30"), 0),
              (at("04:31"), 0), (at("04:31"), 9.8), (at("04:40"), 9.8), (at("04:40"), 12.6), (at("06:00"), 14.4),
              (at("07:10"), 14.4), (at("08:05"), 14.2), (at("08:05"), 0), (at("08:40"), 0)])
    t.op(at("06:55"), "screen", awake=True)
    t.op(at("07:20"), "driveReady", confirmed=True)
    t.op(at("09:00"), "photo", view="point:panel", when="AFTER", sha256=digest("V6 panel"), mediaType="image/jpeg")
    finish(t, "10:30")
    write_case("V6", t.texts(), {
        "about": "Lid lead fed 40 s, then moved to the terminals: nothing deviated.", "source": "fleet scenario V6",
        "procedures": ["boost"], "register": "fleet", "exit": 0, "others": OTHERS,
        "expected": [window_up(0.6), expect("order_on", "met", best=11, tol=0.001, unit="s", basis="said"),
                     expect("order_off", "met", best=11, tol=0.001, unit="s", basis="said")]})


def make():
    for job in (j101, j103, j105, j108, v6):
        job()
