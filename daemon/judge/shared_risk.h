// A risk of 5 % shared over a phase: any look at it may accuse, so each must be surer.
//
// Threads: pure functions.
#pragma once

#include <cstdint>

namespace fairlead::judge {

/// z with a tail of 0.05 / N_eff in millionths, rounded up; N_eff = max(1, 6 T / tau), six looks a
/// correlation time.
[[nodiscard]] int64_t shared_risk_z_micro(int64_t longest_us, int64_t tau_us);

}  // namespace fairlead::judge
