// How far a car rolled within one handling, and how far a truck drove: totals with their bounds.
//
// Threads: a JobView belongs to one thread.
#pragma once

#include <set>
#include <string>
#include <vector>

#include "daemon/judge/forms.h"

namespace fairlead::judge {

struct Total {
  Range mm;  // hi absent: unbounded.
  std::set<Reason> doubts;
  int last_line = kNoLine;             // The last line that counts.
  std::string origin;                  // "rope counter", "tag", ...
  std::string remark = {};             // More that a reader should know, for the sentence.
  std::optional<Range> by_noise = {};  // `mm` before clocks that are not sure widened it.
};

/// Way rolled in the parts of `rolling` (spans of the phase within one handling): the tightest of
/// rope counter and tag; both there and apart: sources_disagree; neither: what the winch can have
/// pulled at most.
[[nodiscard]] Total rolled(JobView& view, const std::vector<PhaseSpan>& rolling,
                           int64_t longest_hole_us);

/// Way driven by the truck: integral of truck.speed, +- 1.645 s.d. sqrt(2 tau T).
[[nodiscard]] Total driven(JobView& view, const std::vector<PhaseSpan>& driving,
                           int64_t longest_hole_us);

/// One of the two on the clocks its readings have: as wide as those leave the ends of the spans;
/// clock_doubt and no bounds where they cannot be compared with them.
[[nodiscard]] Total total_of(JobView& view, const std::string& quantity,
                             const std::vector<PhaseSpan>& spans, int64_t longest_hole_us);

}  // namespace fairlead::judge
