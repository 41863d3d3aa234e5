// What a claim report says around a job: where its files came from, what else the truck did, other
// jobs of the same car, work sensed without a job.
//
// Threads: as Desk.
#pragma once

#include "daemon/desk/desk.h"
#include "daemon/watch/job_record.h"
#include "reports/job_record.h"

namespace fairlead::desk {

/// Since when each file of `out.files` was on record and, on a truck, in force there.
[[nodiscard]] Status add_origins(const Desk& desk, const watch::JobRecord& job,
                                 reports::JobRecord& out);
[[nodiscard]] Status add_surroundings(const Desk& desk, const watch::JobRecord& job,
                                      reports::JobRecord& out);

}  // namespace fairlead::desk
