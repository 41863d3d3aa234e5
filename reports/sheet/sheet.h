// The job sheet: one page and one CSV row from the same time line, for the owner's daily use and
// for billing. Facts only, no verdicts.
//
// Threads: pure functions.
#pragma once

#include <string>

#include "daemon/base/result.h"
#include "reports/job_record.h"
#include "reports/json.h"

namespace fairlead::reports {

[[nodiscard]] Json sheet_json(const JobRecord& record, const ReportOptions& options);
[[nodiscard]] Result<std::string> sheet_html(const Json& json);
/// A line that says what the columns are, the column names, one row (RFC 4180). Times are UTC.
[[nodiscard]] std::string sheet_csv(const Json& json);

}  // namespace fairlead::reports
