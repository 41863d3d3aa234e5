// Summaries service: the compliance summary of a span.
//
// Threads: as Desk; one summary at a time shows its progress.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/desk/desk.h"
#include "fairlead/v1/summaries_service.pb.h"

namespace fairlead::desk {

/// Whom a summary is for, where the base sends it by itself.
struct SummaryFor {
  std::vector<std::string> recipients = {};  // Printed on the page.
  std::filesystem::path folder = {};         // There already; empty: DATA/reports/summary-FROM-TO/.
};

/// Files go to the folder and into the answer; REPORT_ISSUED holds their SHA-256. A preview is only
/// answered.
[[nodiscard]] Result<v1::WriteSummaryResponse> write_summary(Desk& desk,
                                                             const v1::WriteSummaryRequest& request,
                                                             const SummaryFor& whom = {});
[[nodiscard]] v1::GetProgressResponse summary_progress(const Desk& desk);
[[nodiscard]] Result<v1::ListSummariesResponse> list_summaries(
    Desk& desk, const v1::ListSummariesRequest& request);

}  // namespace fairlead::desk
