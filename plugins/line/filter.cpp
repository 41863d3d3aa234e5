#include "plugins/line/filter.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace fairlead::line {

std::string filter_text(const Filter& filter) {
  switch (filter.kind) {
    case Filter::Kind::kMedian3:
      return "median of 3";
    case Filter::Kind::kMedian5:
      return "median of 5";
    case Filter::Kind::kLowPass:
      return fmt::format("low-pass {} ms", filter.tau_us / 1000);
    case Filter::Kind::kNone:
      break;
  }
  return "";
}

double FilterState::next(double value, int64_t mono_us) {
  switch (filter_.kind) {
    case Filter::Kind::kMedian3:
    case Filter::Kind::kMedian5:
      return median(value);
    case Filter::Kind::kLowPass: {
      double dt_us = static_cast<double>(std::max<int64_t>(mono_us - at_us_, 0));
      at_us_ = mono_us;
      if (!smooth_) return *(smooth_ = value);
      *smooth_ += (value - *smooth_) * -std::expm1(-dt_us / static_cast<double>(filter_.tau_us));
      return *smooth_;
    }
    case Filter::Kind::kNone:
      break;
  }
  return value;
}

double FilterState::median(double value) {
  last_.push_back(value);
  size_t most = filter_.kind == Filter::Kind::kMedian3 ? 3 : 5;
  if (last_.size() > most) last_.pop_front();
  // Until it is full: of the odd number of newest ones.
  size_t count = last_.size() % 2 == 1 ? last_.size() : last_.size() - 1;
  std::vector<double> sorted(last_.end() - static_cast<std::ptrdiff_t>(count), last_.end());
  std::nth_element(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(count / 2),
                   sorted.end());
  return sorted[count / 2];
}

void FilterState::forget() {
  last_.clear();
  smooth_.reset();
}

}  // namespace fairlead::line
