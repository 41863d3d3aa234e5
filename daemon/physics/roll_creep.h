// Creep of a car that is taken to stand: what the Doppler readings of the rests say of it, less
// what their own noise explains. Only the upper end of a way allows for it.
//
// Units: metres, seconds. Threads: pure function.
#pragma once

#include <span>

#include "daemon/physics/roll_filter.h"
#include "daemon/physics/roll_tag.h"

namespace fairlead::physics {

/// Largest drift over one window of up to 10 s among the three that follow a counted pull.
/// `weights`: of the noises, adding up to 1.
[[nodiscard]] double creep_seen(std::span<const TagFix> fixes, std::span<const TagPull> pulls,
                                std::span<const RollNoise> noises, std::span<const double> weights);

}  // namespace fairlead::physics
