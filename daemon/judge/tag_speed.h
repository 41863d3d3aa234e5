// Signed speed of the tag on the car along its own way (daemon/physics/speed_along.h).
//
// Threads: pure function.
#pragma once

#include <vector>

#include "daemon/judge/job_lines.h"

namespace fairlead::judge {

struct TagSpeed {
  int line;
  double mps;
};

/// How far before a fix the speeds reach that it has a share in.
constexpr int64_t kTagSpeedReachUs = 5'000'000;

/// By line, of fixes at `from_us` and later; without those whose way cannot be told.
[[nodiscard]] std::vector<TagSpeed> tag_speeds_along(const JobLines& lines, int64_t from_us);

}  // namespace fairlead::judge
