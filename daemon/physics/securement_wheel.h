// Where a strap over a wheel pulls: it leaves its anchor on the deck, touches the tread on the side
// of the anchor, runs over the tyre and down to an anchor on the other side.
//
// Geometry: the deck and the strap are the two tangents from the anchor to the wheel, so the strap
// rises at 2 atan(r / R) for a wheel of radius r and an anchor R from below its middle; an anchor
// beside the tread turns it outward. Left out: how the tyre gives, and the width of the strap.
//
// Threads: pure functions. Units: metres, degrees. Errors: kBadInput, naming the input.
#pragma once

#include <vector>

#include "daemon/physics/securement_parts.h"

namespace fairlead::physics {

struct StrapWay {
  Interval to_deck_deg;  // 0 along the deck, 90 straight down.
  Interval aside_deg;    // In plan, from the line of travel outward.
};

/// `reach_m`: along the deck from below the wheel's middle to the anchor, no less than the radius;
/// `aside_m`: from the middle of the tread outward.
[[nodiscard]] Result<StrapWay> strap_over_wheel(Interval radius_m, Interval reach_m,
                                                Interval aside_m);

enum class Side { kLeft, kRight };
/// Both legs, the one ahead first. Errors: an angle outside 0 to 90 degrees.
[[nodiscard]] Result<std::vector<Leg>> wheel_strap_legs(const StrapWay& way, Side side);

}  // namespace fairlead::physics
