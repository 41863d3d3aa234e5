// A line that holds: it pulls 500 N or more while the rope stands within 0.2 m for 5 s; until the
// pull is under 150 N for 1 s or the rope has moved 0.3 m. Choices of ours (common practice, no
// source). Without a rope counter nobody but a person can tell holding from pulling.
//
// Threads: pure function.
#pragma once

#include "daemon/judge/job_lines.h"
#include "daemon/judge/series.h"
#include "daemon/judge/timeline.h"

namespace fairlead::judge {

[[nodiscard]] Timeline hold_timeline(const Series& pull, const Series& line_out,
                                     const JobLines& lines);

}  // namespace fairlead::judge
