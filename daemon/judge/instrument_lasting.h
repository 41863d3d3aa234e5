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

/// The beginning of a timeline, that later readings do not change, and the state where it ends.
struct Begun {
  Timeline timeline;
  int64_t to_us = kBeginning;  // It is made of the pieces that begin before.
  bool now = false;
};
/// Longest run that any fact waits for: a reading can change what is so this long before it.
constexpr int64_t kLongestRunUs = 5'000'000;

/// One change a piece as `value` (of its index) says; unknown in the holes and after the last. With
/// `begun` it goes on from there and moves that on; `now` is all that `value` remembers.
[[nodiscard]] Timeline timeline_of_pieces(const Series& series, const JobLines& lines, Tri initial,
                                          const std::function<Tri(size_t)>& value,
                                          Begun* begun = nullptr, bool* now = nullptr);

/// True from the first reading of a run that `on` describes until the first of a run that `off`
/// describes; unknown in holes and before the first reading.
[[nodiscard]] Timeline lasting_timeline(const Series& series, const JobLines& lines,
                                        const Lasting& on, const Lasting& off,
                                        Begun* begun = nullptr);

}  // namespace fairlead::judge
