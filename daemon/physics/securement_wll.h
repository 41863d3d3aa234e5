// Aggregate working load limit, 49 CFR 393.106(d): the credits of all tiedowns must reach half the
// weight of the article. Canada's NSC Standard 10 counts half a limit for each end section that is
// attached to an anchor, which gives the same sums.
//
// Threads: pure functions. Units: kg or lb, one for ratings and weight (securement_parts.h).
#pragma once

#include <span>

#include "daemon/physics/check.h"
#include "daemon/physics/securement_parts.h"

namespace fairlead::physics {

inline constexpr double kShareOfWeight = 0.5;  // 393.106(d)

/// 1/2 for direct and same side, 1 for across.
[[nodiscard]] constexpr double credit_of(Path path) { return path == Path::kAcross ? 1 : 0.5; }

/// Credit x weakest part, summed.
[[nodiscard]] Interval aggregate_wll(std::span<const Tiedown> tiedowns);

/// The sum against half the weight. Errors: kBadInput for a weight or rating that is negative,
/// NaN or (weight) unbounded.
[[nodiscard]] Result<Check> check_aggregate(std::span<const Tiedown> tiedowns, Interval weight,
                                            WeightUnit unit);

}  // namespace fairlead::physics
