// How far the speeds that a receiver at rest says scatter: there the true velocity is 0, so all of
// a reading is its error, on two axes.
//
// Units: mm/s, whole; times in us. Threads: values only.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "daemon/judge/whole_math.h"

namespace fairlead::judge {

/// Rest this far around a stay of a phase tells the noise in it; and this much at either end of a
/// rest is left out, as lines are late.
constexpr int64_t kRestAroundUs = 300'000'000, kRestGuardUs = 3'000'000;

class RestScatter {
 public:
  /// In order of time.
  void add(int64_t time_us, int64_t speed_mm_s);
  /// s.d. per axis of the readings in [from, to], in thousandths, rounded up; nullopt with fewer
  /// than 10.
  [[nodiscard]] std::optional<int64_t> sd_milli(int64_t from_us, int64_t to_us) const;

 private:
  struct Sum {
    int64_t time_us;
    Wide squares;  // Of all up to here.
  };
  std::vector<Sum> sums_;
};

}  // namespace fairlead::judge
