// Speed of the tag on the car along its way (daemon/physics/speed_along.h), by line of the record.
//
// Threads: pure function.
#pragma once

#include <map>

#include "daemon/judge/job_lines.h"

namespace fairlead::judge {

/// m/s by line; a fix without course, or with too few readings around it, is not among them.
[[nodiscard]] std::map<int, double> tag_speeds_along(const JobLines& lines);

}  // namespace fairlead::judge
