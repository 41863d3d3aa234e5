// Fixes of the tag on the car, laid flat around the first of them.
// Local radii of the ellipsoid: WGS 84 (a = 6378137 m, 1/f = 298.257223563, NIMA TR8350.2).
//
// Threads: pure functions.
#pragma once

#include <span>
#include <vector>

#include "daemon/judge/job_lines.h"
#include "daemon/physics/roll_tag.h"

namespace fairlead::judge {

struct TagFixes {
  std::vector<physics::TagFix> fixes;
  std::vector<int> lines;  // Of each fix.
  [[nodiscard]] int last_line_before(int64_t time_us) const;
};

/// Indices of fixes, of any source, at times in [from, to).
[[nodiscard]] std::span<const int> fixes_in(const JobLines& lines, int64_t from_us, int64_t to_us);
/// A good fix of the tag with a position.
[[nodiscard]] bool is_tag_fix(const JobLine& line);
[[nodiscard]] bool has_tag_fixes(const JobLines& lines);
/// Good fixes of gps.tag with a position in [from, to).
[[nodiscard]] TagFixes tag_fixes(const JobLines& lines, int64_t from_us, int64_t to_us);

}  // namespace fairlead::judge
