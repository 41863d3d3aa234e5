#include "daemon/judge/tag_fixes.h"

#include <algorithm>
#include <cmath>

#include "daemon/base/exact_math.h"

namespace fairlead::judge {
namespace {

constexpr double kSemiMajorM = 6'378'137.0;
constexpr double kFlattening = 1.0 / 298.257223563;
constexpr double kRadian = 3.14159265358979323846 / 180.0;

}  // namespace

bool is_tag_fix(const JobLine& line) {
  return line.good && line.read->kind == v1::Observation::kFix &&
         line.observation->source() == "gps.tag" && line.observation->fix().mode() >= 2;
}

int TagFixes::last_line_before(int64_t time_us) const {
  int last = kNoLine;
  for (size_t i = 0; i < fixes.size(); ++i) {
    if (fixes[i].time_us < time_us) last = lines[i];
  }
  return last;
}

bool has_tag_fixes(const JobLines& lines) {
  return std::ranges::any_of(lines.fixes(),
                             [&](int index) { return is_tag_fix(lines.line(index)); });
}

std::span<const int> fixes_in(const JobLines& lines, int64_t from_us, int64_t to_us) {
  const auto first_at = [&](int64_t time_us) {
    return std::ranges::partition_point(
        lines.fixes(), [&](int index) { return lines.line(index).stamp.time_us < time_us; });
  };
  const auto from = first_at(from_us);
  return {from, std::max(from, first_at(to_us))};
}

TagFixes tag_fixes(const JobLines& lines, int64_t from_us, int64_t to_us) {
  TagFixes out;
  double lat0 = 0, lon0 = 0, north_per_deg = 0, east_per_deg = 0;
  for (const int index : fixes_in(lines, from_us, to_us)) {
    const JobLine& line = lines.line(index);
    if (!is_tag_fix(line)) continue;
    const v1::Fix& fix = line.observation->fix();
    if (out.fixes.empty()) {
      lat0 = fix.lat_deg();
      lon0 = fix.lon_deg();
      const double sine = exact_sin_deg(lat0), e2 = kFlattening * (2.0 - kFlattening);
      const double w2 = 1.0 - e2 * sine * sine;
      north_per_deg = kSemiMajorM * (1.0 - e2) / (w2 * std::sqrt(w2)) * kRadian;
      east_per_deg = kSemiMajorM / std::sqrt(w2) * exact_cos_deg(lat0) * kRadian;
    }
    physics::TagFix flat{.time_us = line.stamp.time_us,
                         .east_m = (fix.lon_deg() - lon0) * east_per_deg,
                         .north_m = (fix.lat_deg() - lat0) * north_per_deg,
                         .h_sd_m = fix.h_sd_m() > 0.1 ? fix.h_sd_m() : 0.1,
                         .east_mps = {},
                         .north_mps = {}};
    // A speed of exactly 0.0 is a receiver's own zeroing, not a reading.
    if (fix.has_course_deg() && fix.speed_mps() != 0.0) {
      flat.east_mps = fix.speed_mps() * exact_sin_deg(fix.course_deg());
      flat.north_mps = fix.speed_mps() * exact_cos_deg(fix.course_deg());
    }
    out.fixes.push_back(flat);
    out.lines.push_back(line.stamp.line);
  }
  return out;
}

}  // namespace fairlead::judge
