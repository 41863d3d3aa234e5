// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugins/clamp/protocol.h"

#include <cmath>

namespace fairlead::clamp {

Taken take(const Shown& shown) {
  Taken taken{.kind = shown.kind, .value = shown.value};
  if (shown.kind == Shown::kOther) {
    taken.gap = "the meter shows " + (shown.what.empty() ? "something else" : shown.what);
  } else if (shown.diode) {
    taken.gap = "the meter is on diode test";
  } else if (shown.ac) {
    taken.gap =
        shown.kind == Shown::kVolts ? "the meter shows AC volts" : "the meter shows AC amps";
  } else if (shown.held) {
    taken.gap = "the meter's display is held, or shows a minimum, maximum, average or difference";
  } else if (std::isnan(shown.value)) {
    taken.gap = "the meter shows no number";
  } else if (shown.doubtful) {
    taken.gap = "a digit of the meter could not be read";
  }
  if (!taken.gap.empty()) return taken;
  double most = shown.kind == Shown::kVolts ? kMostVolts : kMostAmps;
  if (shown.low_battery) taken.quality = v1::Quality::SUSPECT;
  if (std::isinf(shown.value)) {
    taken.quality = v1::Quality::OVERLOAD;
    taken.value = std::copysign(most, shown.value);
  }
  return taken;
}

}  // namespace fairlead::clamp
