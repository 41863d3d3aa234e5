// When the load has to be looked at again on the road, 49 CFR 392.9(b): within the first 50 miles,
// then at the first of a change of duty status, 3 hours driven, 150 miles driven. Exempt: a sealed
// vehicle with orders not to open it, and loads that make it impracticable (from memory); whether
// the rule holds at all for a truck and its journey is for the caller.
//
// Threads: pure functions. Units: km (of miles printed), hours driven.
#pragma once

#include <optional>
#include <vector>

#include "daemon/physics/check.h"

namespace fairlead::physics {

inline constexpr double kKmPerMile = 1.609344;
inline constexpr double kFirstLookKm = 50 * kKmPerMile;
inline constexpr double kLaterLookKm = 150 * kKmPerMile;
inline constexpr double kLaterLookHours = 3;

/// When the next look is due: at the first of these.
struct LookDue {
  double at_km = 0;
  std::optional<double> at_hours;  // None before the first look.
  bool at_duty_change = false;
};
/// `looked_before`: the first look of this journey is behind, at that distance and driving time.
[[nodiscard]] LookDue next_look(bool looked_before, double at_km, double at_hours);

/// Distance and time now against what is due; a duty change since then is a third, of 0 or -1
/// items. Errors: kBadInput for a negative or NaN distance or time.
[[nodiscard]] Result<std::vector<Check>> check_look(const LookDue& due, Interval now_km,
                                                    Interval now_hours, bool duty_changed);

}  // namespace fairlead::physics
