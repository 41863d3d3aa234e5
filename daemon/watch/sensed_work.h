// Work that instruments sense: the line pulls, the rope runs, the deck tilts, a jump source gives
// current. Numbers in, stretches of time out; whether a job was open is the caller's to know.
//
// Thresholds are choices of ours. A pull counts from 300 N until it is under 150 N, as in the
// judge's line.pulling; rope from 0.5 m and tilt from 6 degrees of change, well beyond the noise of
// 50 mm and 2 degrees; current from 5 A until under 2 A. A reading that is not GOOD says nothing.
//
// Threads: one at a time. Units: microseconds since 1970; newtons, metres, degrees, amperes.
#pragma once

#include <cstdint>
#include <map>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "daemon/record/strip.h"

namespace fairlead::watch {

enum class Sensed : uint8_t { kPull = 1, kRope = 2, kTilt = 3, kCurrent = 4 };

struct SensedStretch {
  Sensed what = Sensed::kPull;
  int64_t from_us = 0, to_us = 0;
  /// Largest pull in N or current in A; change of rope in m or tilt in degrees.
  double most = 0;
};

/// One device's instruments. Remembers only where rope and deck stood last, so that a slow change
/// over several strips is seen; strips may come in any order.
class WorkSensor {
 public:
  /// Lanes that name a job are passed over: they are that job's.
  [[nodiscard]] std::vector<SensedStretch> take(std::span<const record::StripLane> lanes);

 private:
  struct Rest {
    int64_t time_us = 0;
    double value = 0;
  };
  void take_change(const record::StripLane& lane, Sensed what, double least,
                   std::vector<SensedStretch>& out);

  std::map<std::pair<std::string, std::string>, Rest> rest_;  // By source and signal.
};

/// Stretches of one device in time order, joined where they belong to one piece of work (at most 5
/// min apart), those under 2 s in all left out. Each inner vector holds one stretch a signal.
[[nodiscard]] std::vector<std::vector<SensedStretch>> pieces_of_work(
    std::vector<SensedStretch> stretches);

/// "line pull up to 8.9 kN", "rope moved 7.9 m".
[[nodiscard]] std::string sensed_words(const SensedStretch& stretch);

}  // namespace fairlead::watch
