// What judging costs while a job runs: its lines come in order, and after each stretch of its time
// it is judged.
//
// Threads: one.
#pragma once

#include <string>
#include <vector>

#include "daemon/judge/judge.h"

namespace fairlead::bench {

struct LiveCost {
  std::vector<double> add_s, judge_s;  // Wall clock, one a judging.
  size_t readings = 0;                 // How often the job was read anew.
  size_t state_bytes = 0;              // On the heap for the job when its last line is in.
  std::string findings;                // As last judged.
};

/// Judged each `every_us` of the job's time, and after its last line.
[[nodiscard]] LiveCost run_live(const judge::Rulebook& rulebook,
                                const std::vector<v1::Observation>& lines, int64_t every_us);

}  // namespace fairlead::bench
