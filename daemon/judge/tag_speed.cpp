#include "daemon/judge/tag_speed.h"

#include <cmath>
#include <vector>

#include "daemon/base/exact_math.h"
#include "daemon/judge/tag_fixes.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kAroundUs = 5'000'000;
constexpr size_t kFewest = 3;

struct Reading {
  int line;
  int64_t time_us;
  double east, north;
};

}  // namespace

std::map<int, double> tag_speeds_along(const JobLines& lines) {
  std::vector<Reading> readings;
  for (const JobLine& line : lines.lines()) {
    if (!is_tag_fix(line) || !line.observation->fix().has_course_deg()) continue;
    const v1::Fix& fix = line.observation->fix();
    readings.push_back({line.stamp.line, line.stamp.time_us,
                        fix.speed_mps() * exact_sin_deg(fix.course_deg()),
                        fix.speed_mps() * exact_cos_deg(fix.course_deg())});
  }
  std::map<int, double> along;
  size_t from = 0, to = 0;
  for (const Reading& here : readings) {
    while (readings[from].time_us < here.time_us - kAroundUs) ++from;
    while (to < readings.size() && readings[to].time_us <= here.time_us + kAroundUs) ++to;
    double east = 0.0, north = 0.0;
    for (size_t i = from; i < to; ++i) {
      east += readings[i].east;
      north += readings[i].north;
    }
    const double length = std::sqrt(east * east + north * north);
    if (length == 0.0 || to - from < kFewest) continue;
    along[here.line] = (here.east * east + here.north * north) / length;
  }
  return along;
}

}  // namespace fairlead::judge
