"""Openings, endings and constants that the fleet's jobs share."""

import math

from trace_kit import U, at, digest, z_of


WHEELS = ("LF", "RF", "LR", "RR")
G = 9.80665
ROPE_U = U * 0.086 * math.sqrt(2)  # 0.200 m a chord
SPEED_S = 0.0912  # km/h; u = 0.15
VOLT_S = 0.0608  # V; u = 0.10
Z_SPEED = z_of(300, 1.5)  # longest 5 min, tau 1.5 s: 3.935, so J-102's marginHi is 4.66
Z_VOLTS = z_of(1800, 0.5)  # longest 30 min, tau 0.5 s
OTHERS = "met"  # unless named, every rule that applies is met


def open_job(t, procedures, vehicle, truck, start="-02:00"):
    t.op(at(start), "opened", procedures=procedures, vehicle=vehicle, truck=truck, operator="card-3f")
    t.put(at(start) + 1, "gps.truck", "truckMotion", {"moving": False})


def arrive(t, film="01:10", place="ROADSIDE", rolls="YES", power="LOW"):
    t.op(0, "arrived")
    t.op(at("00:12"), "scene", set=True)
    t.op(at("00:24"), "identified", card="card-plate-" + t.job[-3:], how="BOTH")
    t.op(at("00:36"), "authority", card="card-owner-" + t.job[-3:], kind="OWNER", reference="order " + t.job)
    t.op(at("00:48"), "found", rolls=rolls, lockedWheels=[], flatTyres=[], power=power, keys=True, fluids=False,
         airbags=False, movedByOthersBefore=False, place=place, surface="DRY")
    t.op(at("00:58"), "item", kind="KEYS", state="TAKEN", bag="bag-" + t.job[-3:])
    if film:
        t.op(at(film), "film", sha256=digest(t.job + " film before"), mediaType="video/mp4", when="BEFORE")


def film_after(t, when):
    t.op(at(when), "film", sha256=digest(t.job + " film after"), mediaType="video/mp4", when="AFTER")


def finish(t, when, outcome="SIGNED"):
    t.op(at(when), "closed", outcome=outcome)
