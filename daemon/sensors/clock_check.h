// Whether a reading's two clocks are this machine's. A plugin that lies about time would move its
// readings to where they prove something.
//
// Threads: one at a time. Units: microseconds.
#pragma once

#include <cstdint>
#include <deque>

namespace fairlead::sensors {

class ClockCheck {
 public:
  /// The wall clock may be set at any time: readings taken before keep the old difference.
  void note(int64_t wall_us, int64_t mono_us);
  /// True when `mono_us` is not to come and `wall_us` was what the wall clock showed then.
  [[nodiscard]] bool believes(int64_t wall_us, int64_t mono_us, int64_t now_mono_us) const;

 private:
  std::deque<int64_t> differences_us_;  // Wall minus monotonic, newest last; at most kKept.
};

}  // namespace fairlead::sensors
