#include "daemon/judge/tag_speed.h"

#include "daemon/base/exact_math.h"
#include "daemon/judge/tag_fixes.h"
#include "daemon/physics/speed_along.h"

namespace fairlead::judge {

std::vector<TagSpeed> tag_speeds_along(const JobLines& lines, int64_t from_us) {
  std::vector<physics::VelocityReading> readings;
  std::vector<int> of_line;
  for (const int index : fixes_in(lines, from_us - kTagSpeedReachUs, kForever)) {
    const JobLine& line = lines.line(index);
    if (!is_tag_fix(line) || !line.observation->fix().has_course_deg()) continue;
    const v1::Fix& fix = line.observation->fix();
    of_line.push_back(index);
    readings.push_back({line.stamp.time_us, fix.speed_mps() * exact_sin_deg(fix.course_deg()),
                        fix.speed_mps() * exact_cos_deg(fix.course_deg())});
  }
  const auto speeds = physics::speeds_along(readings);
  std::vector<TagSpeed> along;
  for (size_t i = 0; i < speeds.size(); ++i) {
    if (speeds[i] && readings[i].time_us >= from_us) along.push_back({of_line[i], *speeds[i]});
  }
  return along;
}

}  // namespace fairlead::judge
