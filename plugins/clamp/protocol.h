// SPDX-License-Identifier: GPL-3.0-or-later
// What a meter's reading means for the record: which of its readings are the volts and amps of the
// clamp, which are not, and how good they are. Knows no instrument and no library.
//
// Threads: pure functions. Units: V, A.
#pragma once

#include <optional>
#include <string>

#include "fairlead/v1/observation.pb.h"

namespace fairlead::clamp {

/// One reading as the meter shows it.
struct Shown {
  enum Kind { kVolts, kAmps, kOther } kind = kOther;
  std::string what = {};  // For kOther: "resistance" ..., for a person.
  double value = 0;       // Infinite: the meter says overload.
  bool ac = false;        // Alternating: neither the battery's volts nor the cable's amps.
  bool diode = false;     // Volts of the diode test.
  bool held = false;      // HOLD, MIN, MAX, AVG or relative: not what is measured now.
  bool low_battery = false;
  bool doubtful = false;  // The driver could not read every digit.
};

/// What to record of it.
struct Taken {
  Shown::Kind kind = Shown::kOther;
  double value = 0;
  v1::Quality::Word quality = v1::Quality::GOOD;
  /// Not empty: no sample, the channels are in a gap for this reason.
  std::string gap{};
};

/// Range of the record's signals, by which an overload is entered.
inline constexpr double kMostVolts = 100;
inline constexpr double kMostAmps = 3000;

[[nodiscard]] Taken take(const Shown& shown);

}  // namespace fairlead::clamp
