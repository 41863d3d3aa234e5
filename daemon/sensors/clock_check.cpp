#include "daemon/sensors/clock_check.h"

#include <algorithm>
#include <cstdlib>

namespace fairlead::sensors {

namespace {
constexpr size_t kKept = 16;
constexpr int64_t kSameUs = 100'000;
// A plugin reads the clocks one after the other, on a busy machine.
constexpr int64_t kSlackUs = 1'000'000;
}  // namespace

void ClockCheck::note(int64_t wall_us, int64_t mono_us) {
  int64_t difference_us = wall_us - mono_us;
  bool known =
      !differences_us_.empty() && std::abs(differences_us_.back() - difference_us) < kSameUs;
  if (known) return;
  differences_us_.push_back(difference_us);
  if (differences_us_.size() > kKept) differences_us_.pop_front();
}

bool ClockCheck::believes(int64_t wall_us, int64_t mono_us, int64_t now_mono_us) const {
  if (mono_us <= 0 || mono_us > now_mono_us + kSlackUs) return false;
  auto fits = [&](int64_t difference_us) {
    return std::abs(wall_us - mono_us - difference_us) <= kSlackUs;
  };
  return std::any_of(differences_us_.begin(), differences_us_.end(), fits);
}

}  // namespace fairlead::sensors
