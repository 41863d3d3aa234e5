#include "daemon/judge/tag_speed.h"

#include <vector>

#include "daemon/base/exact_math.h"
#include "daemon/judge/tag_fixes.h"
#include "daemon/physics/speed_along.h"

namespace fairlead::judge {

std::map<int, double> tag_speeds_along(const JobLines& lines) {
  std::vector<physics::VelocityReading> readings;
  std::vector<int> of_line;
  for (const JobLine& line : lines.lines()) {
    if (!is_tag_fix(line) || !line.observation->fix().has_course_deg()) continue;
    const v1::Fix& fix = line.observation->fix();
    of_line.push_back(line.stamp.line);
    readings.push_back({line.stamp.time_us, fix.speed_mps() * exact_sin_deg(fix.course_deg()),
                        fix.speed_mps() * exact_cos_deg(fix.course_deg())});
  }
  const auto speeds = physics::speeds_along(readings);
  std::map<int, double> along;
  for (size_t i = 0; i < speeds.size(); ++i) {
    if (speeds[i]) along[of_line[i]] = *speeds[i];
  }
  return along;
}

}  // namespace fairlead::judge
