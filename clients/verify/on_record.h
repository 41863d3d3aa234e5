// What the record says, so that a reader can hold it beside the pages of a report: the job, the
// head's fingerprint as page 1 prints it, and each finding's sentence.
//
// Threads: pure functions.
#pragma once

#include <map>
#include <string>

#include "clients/verify/case.h"

namespace fairlead::verifier {

struct RecordedFinding {
  std::string line;  // The judge's JSON.
  uint32_t revision = 0;
};

/// The last revision on record of each finding of the job, by its key; well signed ones only.
[[nodiscard]] std::map<std::string, RecordedFinding> recorded_findings(const Case& c);

void tell_record(const Case& c, Verdicts& verdicts);

}  // namespace fairlead::verifier
