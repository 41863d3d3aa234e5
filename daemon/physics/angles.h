// Sine and cosine of degrees, exact at the angles people name (0, 30, 60, 90 ...), and over an
// interval of angles with the turning points inside it.
//
// Threads: pure functions. Units: degrees.
#pragma once

#include "daemon/physics/interval.h"

namespace fairlead::physics {

[[nodiscard]] double sin_deg(double degrees);
[[nodiscard]] double cos_deg(double degrees);
/// All values over the interval; NaN ends for an unsound or unbounded one.
[[nodiscard]] Interval sin_over(const Interval& degrees);
[[nodiscard]] Interval cos_over(const Interval& degrees);

}  // namespace fairlead::physics
