// Slings, bridles and their angles.
//
// A leg that leaves the level at angle a carries 1 / sin a of its share; two legs of a bridle under
// an included angle b carry 1 / (2 cos(b / 2)) of the pull each. Below 30 degrees from level: do
// not use (a chart, secondary source). Draw the angle for people: charts differ in where it starts.
//
// Threads: pure functions over constants. Units: degrees; factors have none.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "daemon/physics/check.h"

namespace fairlead::physics {

inline constexpr double kLeastFromLevelDeg = 30;

/// 1 / sin a. Errors: kBadInput below 30 degrees, above 90, NaN.
[[nodiscard]] Result<Interval> leg_tension_factor(Interval from_level_deg);
/// The same from leg length over its height (L / H). Errors: kBadInput unless L / H is 1 to 2.
[[nodiscard]] Result<Interval> leg_tension_factor_by_size(Interval length, Interval height);

/// Share of the whole pull in each leg of a V bridle; unbounded at 180 degrees. Errors: kBadInput
/// outside 0 to 180 degrees.
[[nodiscard]] Result<Interval> bridle_leg_share(Interval included_deg);

/// Hitch factors (secondary source).
enum class Hitch { kVertical, kChoker, kBasket };
[[nodiscard]] constexpr double hitch_factor(Hitch hitch) {
  return hitch == Hitch::kVertical ? 1 : hitch == Hitch::kChoker ? 0.8 : 2;
}
/// Two legs together, times one leg's limit: 1.4 to 90 degrees included, 1 to 120, nullopt above.
[[nodiscard]] std::optional<double> two_leg_factor(double included_deg);

/// Why a web sling is taken out of use. `standing` is that of the words.
struct RemovalReason {
  std::string_view words, origin;
  Standing standing;
};
[[nodiscard]] std::span<const RemovalReason> sling_removal_reasons();

/// Heat limits of web slings, 29 CFR 1926.251(e): 180 F nylon and polyester, 200 F polypropylene.
enum class SlingFibre { kNylon, kPolyester, kPolypropylene };
[[nodiscard]] constexpr double heat_limit_f(SlingFibre fibre) {
  return fibre == SlingFibre::kPolypropylene ? 200 : 180;
}
[[nodiscard]] constexpr double celsius_of_fahrenheit(double f) { return (f - 32) / 1.8; }

}  // namespace fairlead::physics
