// What detectors share: a fact that an instrument turns on and off with hysteresis, each way only
// when the reading lasts.
//
// Threads: pure functions.
#pragma once

#include <functional>
#include <vector>

#include "daemon/judge/job_lines.h"
#include "daemon/judge/series.h"
#include "daemon/judge/timeline.h"

namespace fairlead::judge {

/// A condition on a reading that counts once it has held for `for_us` without a break.
struct Lasting {
  std::function<bool(const Piece&)> condition;
  int64_t for_us = 0;
};

/// Whether from piece `i` on the condition holds long enough, without a break.
[[nodiscard]] bool run_lasts(const std::vector<Piece>& pieces, size_t i, const Lasting& wanted);

/// One change a piece as `value` (of its index) says; unknown in the holes and after the last.
[[nodiscard]] Timeline timeline_of_pieces(const Series& series, const JobLines& lines, Tri initial,
                                          const std::function<Tri(size_t)>& value);

/// True from the first reading of a run that `on` describes until the first of a run that `off`
/// describes; unknown in holes and before the first reading.
[[nodiscard]] Timeline lasting_timeline(const Series& series, const JobLines& lines,
                                        const Lasting& on, const Lasting& off);

}  // namespace fairlead::judge
