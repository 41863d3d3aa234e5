// The claim report: JSON of every figure and sentence first, the page rendered from that JSON.
//
// Threads: pure functions. The same record, claim, table and options give the same bytes.
#pragma once

#include <map>
#include <string>

#include "daemon/base/result.h"
#include "reports/claim/allegation_table.h"
#include "reports/job_record.h"
#include "reports/json.h"

namespace fairlead::reports {

/// Errors: kBadInput for a claim without allegations, an allegation of an unknown kind, or a job
/// without lines; the message names the field and what to do. An allegation without a kind gets
/// the kind its words fit best.
[[nodiscard]] Result<Json> claim_report_json(const JobRecord& record, const v1::Claim& claim,
                                             const AllegationTable& table,
                                             const ReportOptions& options);

/// One self-contained page: no script, no address outside itself; pictures as data. `pictures`
/// are those of page_pictures(). Errors: kInternal for a key the JSON lacks.
[[nodiscard]] Result<std::string> claim_report_html(
    const Json& json, const std::map<std::string, Attachment>& pictures);

/// "data:image/png;base64,..." for a JPEG or PNG by its bytes; else "".
[[nodiscard]] std::string picture_data(const std::map<std::string, Attachment>& pictures,
                                       const std::string& sha256);

}  // namespace fairlead::reports
