// What the tag on the car says of its own noise while the car stands.
//
// Threads: a JobView belongs to one thread.
#pragma once

#include <set>
#include <string>

#include "daemon/judge/forms.h"
#include "daemon/judge/rest_scatter.h"

namespace fairlead::judge {

/// Speeds the tag says while the truck surely stands, nothing rolls, no line pulls, no deck slides,
/// no wheel is on skates and nobody drives. One of exactly 0.0 is a receiver's own zeroing, not a
/// reading.
[[nodiscard]] RestScatter tag_at_rest(JobView& view);
/// Sources whose lines tell rest from motion.
[[nodiscard]] std::set<std::string> sources_of_rest(JobView& view);

}  // namespace fairlead::judge
