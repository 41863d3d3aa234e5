// The sample job with hostile text in every free field: of every line, of the claim, the register,
// the files, cards and what the ledger says. Found by reflection, so that a new field is hostile
// too.
#pragma once

#include <string>

#include "reports/job_record.h"

namespace fairlead::reports {

/// HTML, template marks, bidi controls, emoji, four scripts, broken UTF-8 left out (protobuf
/// refuses).
[[nodiscard]] std::string hostile_text();

struct Hostile {
  JobRecord record;
  v1::Claim claim;
  ReportOptions options;
};
/// `filler` stands behind the hostile text in every field: "" or 10,000 characters.
[[nodiscard]] Hostile hostile_job(Paper paper, const std::string& filler = "");

}  // namespace fairlead::reports
