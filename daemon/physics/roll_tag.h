// Way rolled from a satellite tag on the car: the sum of rest-to-rest chords, from a Kalman
// filter whose noise is coloured and whose noise figures are a grid weighted by likelihood.
//
// Per axis (east, north alike) the state is [p, v, m, d] and one copy of p for each end of each
// pull: v is a first-order velocity (s.d. 1 m/s, 5 s) while the car may move and exactly 0 at
// rest; m is multipath, d Doppler error, both Ornstein-Uhlenbeck; observed are p + m + white and
// v + d + white. The joint posterior of the copies gives the chords directly, so no smoother pass
// is needed. Summing fixes instead overstates the way without bound (Ranacher et al. 2016).
// Only + - * / and sqrt: the same bits on every build.
//
// Units: metres, seconds as doubles inside; results in whole millimetres, outward.
// Threads: pure function.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace fairlead::physics {

struct TagFix {
  int64_t time_us = 0;
  double east_m = 0, north_m = 0;
  double h_sd_m = 2.5;                        // Per axis.
  std::optional<double> east_mps, north_mps;  // Absent: no usable velocity.
};

/// The car may move in [from, to); counted pulls add to the way, others (a sliding deck) do not.
struct TagPull {
  int64_t from_us = 0, to_us = 0;
  bool counted = true;
};

struct TagWay {
  int64_t lo_mm = 0, best_mm = 0, hi_mm = 0;  // 2.5 %, 50 %, 97.5 % of the posterior.
  int fixes_used = 0, outliers = 0;
};

/// `fixes` in order of time, with the rests around the pulls; `pulls` sorted, not overlapping.
/// nullopt with fewer than 3 fixes, or without a fix at rest before and after the pulls.
[[nodiscard]] std::optional<TagWay> tag_way(std::span<const TagFix> fixes,
                                            std::span<const TagPull> pulls);

}  // namespace fairlead::physics
