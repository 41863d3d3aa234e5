// What each job of a span gives to a summary, read on every processor at once.
//
// Findings are those the watch has put on record; a job that is not closed and settled is judged
// anew. Threads: as Desk; starts threads of its own and waits for them.
#pragma once

#include <atomic>
#include <vector>

#include "daemon/desk/desk.h"
#include "reports/summary/summary.h"

namespace fairlead::desk {

/// Jobs opened in [from_us, to_us), in order of their opening. Errors: of the ledger, naming the
/// job.
[[nodiscard]] Result<std::vector<reports::SummaryJob>> summary_jobs(Desk& desk, int64_t from_us,
                                                                    int64_t to_us);

}  // namespace fairlead::desk
