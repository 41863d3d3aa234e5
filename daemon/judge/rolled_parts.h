// The ways to a distance rolled that rolled.cpp chooses from, besides the rope counter.
//
// Threads: a JobView belongs to one thread.
#pragma once

#include <vector>

#include "daemon/judge/rolled.h"

namespace fairlead::judge {

/// From the tag on the car (daemon/physics/roll_tag.h). Wheels roll only while the line pulls; a
/// deck that slides in between is motion, not way.
[[nodiscard]] Total rolled_by_tag(JobView& view, const std::vector<PhaseSpan>& rolling,
                                  int64_t longest_hole_us);

/// Whether the tag said a speed of exactly 0.0 all through a pull of 3 s or more in which the rope
/// moved: a receiver that holds itself still, which no rest of the car explains.
[[nodiscard]] bool tag_held_at_zero(JobView& view, const std::vector<PhaseSpan>& rolling);

/// Without rope counter or tag: from nothing up to winch line speed x time pulling. No load cell,
/// no line speed on file, or a hole in the pull: no upper end.
[[nodiscard]] Total rolled_by_winch(JobView& view, const std::vector<PhaseSpan>& rolling);

}  // namespace fairlead::judge
