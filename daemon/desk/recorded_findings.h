// Findings as they stand in the record, for a job whose lines are erased in part: what is left must
// not be judged anew.
//
// Threads: pure function.
#pragma once

#include <string>
#include <vector>

#include "daemon/base/result.h"
#include "daemon/judge/finding.h"

namespace fairlead::desk {

/// Puts into each finding what the recorded line of its key says; title, origin and quantity stay
/// the procedure's, the value behind the margin is unknown. Lines without a finding are left out.
/// Errors: kCorrupt for a line that does not read.
[[nodiscard]] Status use_recorded(const std::vector<std::string>& lines,
                                  std::vector<judge::Finding>& findings);

}  // namespace fairlead::desk
