// What countersigners prove about a job: for its report.
//
// Threads: as Desk.
#pragma once

#include "daemon/desk/desk.h"
#include "reports/job_record.h"
#include "reports/summary/summary.h"

namespace fairlead::desk {

/// Fills in the bracket of every line, of the whole job, and the first countersigned head that
/// covers the job's last entry.
[[nodiscard]] Status add_brackets(const Desk& desk, const record::Id16& job,
                                  reports::JobRecord& out);

/// Puts the mailed head of at least `size` leaves in the place of the one named so far, so that
/// page 1 and a head mail show one fingerprint; its note, empty when nothing is mailed.
[[nodiscard]] Result<std::string> name_mailed_head(const Desk& desk, uint64_t size,
                                                   reports::RecordFacts& facts);

/// What a summary says so that a later omission shows: where each device's chain and each job's
/// count of entries stand; the request, the newest countersigned head, the alarm.
[[nodiscard]] Status add_standing(const Desk& desk, reports::SummaryInput& input);

}  // namespace fairlead::desk
