// Summaries service: the compliance summary of a span.
//
// Threads: as Desk. Judges every job of the span anew: milliseconds a job.
#pragma once

#include "daemon/desk/desk.h"
#include "fairlead/v1/summaries_service.pb.h"

namespace fairlead::desk {

/// Files go to DATA/reports/summary-FROM-TO/ and into the answer; REPORT_ISSUED holds their
/// SHA-256.
[[nodiscard]] Result<v1::WriteSummaryResponse> write_summary(
    Desk& desk, const v1::WriteSummaryRequest& request);
[[nodiscard]] Result<v1::ListSummariesResponse> list_summaries(
    Desk& desk, const v1::ListSummariesRequest& request);

}  // namespace fairlead::desk
