// Judging of what a job's lines were made into.
//
// Threads: a JobState belongs to one thread.
#pragma once

#include "daemon/judge/job_state.h"
#include "daemon/judge/judge.h"

namespace fairlead::judge {

/// Findings, and the warnings they give at `now_us`.
[[nodiscard]] Judgement judgement_of(const Rulebook& rulebook, JobState& state, int64_t now_us,
                                     const Options& options);

}  // namespace fairlead::judge
