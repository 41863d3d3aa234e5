// Means of a quantity over bins of one length, on a grid from an instant on.
//
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "daemon/judge/series.h"

namespace fairlead::judge {

// Bin mean in thousandths of the stored unit, and where its extreme was read.
struct Bin {
  int64_t from_us = 0, to_us = 0;
  int64_t mean_milli = 0, lo_milli = 0, hi_milli = 0;
  int64_t sd_milli = 0;
  int line = kNoLine;
  int64_t line_us = 0;
};

/// Mean over the covered part of [from, to) clipped to the phase; nullopt if less than half is.
[[nodiscard]] std::optional<Bin> bin_of(const Series& series, int64_t from_us, int64_t to_us,
                                        int64_t phase_from, int64_t phase_to);

/// The covered bins of a grid in [from, to) of a phase, one after another.
class BinWalk {
 public:
  BinWalk(const Series& series, int64_t length_us, int64_t from_us, int64_t to_us)
      : series_(series), length_us_(length_us), from_us_(from_us), to_us_(to_us) {}
  /// The next bin at `start_us` or later that ends by `until_us`; moves `start_us` past it. nullopt
  /// when there is none, with `start_us` where to go on once more is known.
  [[nodiscard]] std::optional<Bin> next(int64_t& start_us, int64_t until_us);

 private:
  const Series& series_;
  int64_t length_us_, from_us_, to_us_;
};

}  // namespace fairlead::judge
