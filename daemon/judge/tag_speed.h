// Speed of the tag on the car along its way: the component of each reading along the mean of the
// readings within 5 s either side. The length of a noisy velocity is longer than the true one; its
// component along the way is not, and it is negative when the car goes back.
//
// Threads: pure function.
#pragma once

#include <map>

#include "daemon/judge/job_lines.h"

namespace fairlead::judge {

/// m/s by line; a fix without course, or with too few readings around it, is not among them.
[[nodiscard]] std::map<int, double> tag_speeds_along(const JobLines& lines);

}  // namespace fairlead::judge
