// How well the speed of a pull holds: the signed component along the way, mean of 1 s, against the
// simulated truth, as the judge takes it (daemon/physics/speed_along.h,
// daemon/judge/shared_risk.h).
//
// Units: m/s. Threads: values and pure functions.
#pragma once

#include "tests/bench/roll_strata.h"

namespace fairlead::bench {

struct SpeedSums {
  int jobs = 0, pulls = 0, means = 0;
  int covered_stated = 0, covered_default = 0;  // Means within 1.96 s.d. of the truth.
  int accused_stated = 0, accused_default = 0;  // Jobs with a mean surely above the truth ...
  int pulls_accused = 0;  // ... pulls (stated s.d.), over one of which the risk is shared ...
  int pulls_cleared = 0;  // ... and pulls that a limit just below their fastest mean would clear.
  double off = 0, square = 0, length_off = 0;  // length_off: of the velocity's length instead.
};

/// The same runs as run_stratum's.
[[nodiscard]] SpeedSums run_speeds(const Stratum& stratum, size_t index, int runs,
                                   uint64_t first_seed);

}  // namespace fairlead::bench
