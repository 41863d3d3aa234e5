// A job as the reports take it, gathered from the ledger.
//
// Threads: as Desk.
#pragma once

#include "daemon/desk/desk.h"
#include "reports/job_record.h"

namespace fairlead::desk {

/// Lines, findings judged anew under the pinned files, register, cards, record facts; where
/// `whole`, pictures too, where the files came from, and what stands around the job. Errors: of the
/// ledger; kBadInput for a pinned file that does not read.
[[nodiscard]] Result<reports::JobRecord> report_input(Desk& desk, const record::Id16& job,
                                                      bool whole);

/// The ledger and its newest head, signed now.
[[nodiscard]] Result<reports::RecordFacts> ledger_facts(Desk& desk);

/// "ozzlewick" of the origin "ozzlewick/fairlead/g1".
[[nodiscard]] std::string issuer_of(const Desk& desk);

/// A4, LETTER or empty. Errors: kBadInput.
[[nodiscard]] Result<reports::Paper> paper_of(const std::string& text);

/// How pages asked for by a request look. Errors: kBadInput for an offset beyond 14 h, an unknown
/// zone or paper, both an offset and a zone.
[[nodiscard]] Result<reports::ReportOptions> report_options(const Desk& desk,
                                                            const std::string& paper,
                                                            int utc_offset_minutes,
                                                            const std::string& zone);
template <typename Request>
[[nodiscard]] Result<reports::ReportOptions> report_options(const Desk& desk,
                                                            const Request& request) {
  return report_options(desk, request.paper(), request.utc_offset_minutes(), request.zone());
}

}  // namespace fairlead::desk
