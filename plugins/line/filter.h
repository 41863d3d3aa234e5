// What may be smoothed before it is recorded, and is said in the channel's description: the median
// of the last few readings (takes out single spikes, keeps edges) or a first-order low-pass
// (y += (x - y) x (1 - exp(-dt / tau))). Nothing is filtered unless the settings ask for it.
//
// Threads: one at a time. Units: the value's own; microseconds.
#pragma once

#include <cstdint>
#include <deque>
#include <optional>
#include <string>

namespace fairlead::line {

struct Filter {
  enum class Kind { kNone, kMedian3, kMedian5, kLowPass };
  Kind kind = Kind::kNone;
  int64_t tau_us = 0;  // Of the low-pass.
};

/// "median of 3", "low-pass 200 ms"; empty for none.
[[nodiscard]] std::string filter_text(const Filter& filter);

class FilterState {
 public:
  explicit FilterState(Filter filter = {}) : filter_(filter) {}
  /// A finite value in, the smoothed one out.
  double next(double value, int64_t mono_us);
  /// A reading is missing or not good: nothing before it counts.
  void forget();

 private:
  double median(double value);

  Filter filter_;
  std::deque<double> last_;
  std::optional<double> smooth_;
  int64_t at_us_ = 0;
};

}  // namespace fairlead::line
