// Arithmetic of margins that the forms over time share.
//
// Threads: pure functions.
#pragma once

#include <algorithm>
#include <optional>

#include "daemon/judge/forms.h"

namespace fairlead::judge {

/// The smaller margin end for end: an end is known only where both are (lo), or where one is (hi).
[[nodiscard]] inline Range tighter(const Range& a, const Range& b) {
  const auto least = [](std::optional<int64_t> x, std::optional<int64_t> y) {
    return x && y ? std::min(*x, *y) : x ? x : y;
  };
  return {a.lo && b.lo ? std::optional(std::min(*a.lo, *b.lo)) : std::nullopt,
          least(a.best, b.best), least(a.hi, b.hi)};
}

/// limit - x, and x - limit.
[[nodiscard]] inline Range below(int64_t limit, const TimeDifference& x) {
  return {limit - x.hi_us, limit - x.best_us, limit - x.lo_us};
}
[[nodiscard]] inline Range above(int64_t limit, const TimeDifference& x) {
  return {x.lo_us - limit, x.best_us - limit, x.hi_us - limit};
}

/// A range that two clocks, or a burst of taps, leave on both sides of 0.
[[nodiscard]] inline bool straddles(const Range& range) {
  return range.lo && range.hi && *range.lo < 0 && *range.hi >= 0;
}

/// Doubts cannot hold back a margin that is inside whatever they hide.
inline void clear_if_inside(Occasion& occasion) {
  if (occasion.margin.lo && *occasion.margin.lo >= 0) occasion.doubts.clear();
}

}  // namespace fairlead::judge
