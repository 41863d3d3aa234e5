// A job record made from a case under tests/traces: its lines, judged by the shipped procedures
// under the invented fleet's files. What the desk adds from the ledger (heads, countersigners) is
// left out.
#pragma once

#include <string>

#include "reports/job_record.h"

namespace fairlead::reports {

/// `name` such as "J-102". Fails the running test and ends the program where a file is missing.
[[nodiscard]] JobRecord traced_job(const std::string& name);

/// A line of the operator at a time of day of the trace's own day, seq after all others.
void add_line(JobRecord& record, const std::string& time, const std::string& kind_json);

}  // namespace fairlead::reports
