// How many tiedowns, and of which kind: 49 CFR 393.110 (by length), 393.128 (vehicles to 10,000 lb
// each), 393.130 (heavy vehicles and machinery on wheels or tracks). The greater need governs, and
// 393.106(d) must pass besides.
//
// Each rule prints its figures in both units (5 ft, 1.52 m; 10,000 lb, 4,536 kg); one column is
// used throughout, that of the load's unit.
//
// Threads: pure functions. Units: ft and lb, or m and kg, by WeightUnit.
#pragma once

#include <span>

#include "daemon/physics/check.h"
#include "daemon/physics/securement_parts.h"

namespace fairlead::physics {

/// A number of pieces, from the least to the most that the inputs leave open.
[[nodiscard]] Result<Interval> least_tiedowns_by_length(Interval length, Interval weight,
                                                        bool blocked_forward, WeightUnit unit);

/// 393.128(b)(1) is commonly read as two for a vehicle (one front, one rear); the drivers' handbook
/// words it "at least two at both the front and rear". A setting of the base.
enum class VehicleCount { kTwo = 2, kFour = 4 };

/// 10,000 lb or 4,536 kg: the most that 393.128 covers; above it 393.130 holds.
[[nodiscard]] constexpr double light_vehicle_limit(WeightUnit unit) {
  return unit == WeightUnit::kKg ? 4536 : 10'000;
}
/// 393.130: four at least, each of 5,000 lb or 2,268 kg.
inline constexpr int kHeavyCount = 4;
[[nodiscard]] constexpr double heavy_tiedown_wll(WeightUnit unit) {
  return unit == WeightUnit::kKg ? 2268 : 5000;
}

/// Where a tiedown of a vehicle holds it.
enum class End { kFront, kRear, kMiddle };
struct PlacedTiedown {
  Tiedown tiedown;
  End end = End::kMiddle;
};

/// The count rule that holds for a vehicle of that weight: number, both ends held, and under
/// 393.130 the rating of each. Void pieces do not count; pieces that may be void are unproven. A
/// weight on both sides of the limit is judged by both rules, and only what both say is proven.
/// Errors: kBadInput for a weight that is negative, NaN or unbounded.
[[nodiscard]] Result<std::vector<Check>> check_vehicle_count(std::span<const PlacedTiedown> placed,
                                                             Interval weight, WeightUnit unit,
                                                             VehicleCount count);

}  // namespace fairlead::physics
