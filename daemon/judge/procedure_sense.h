// Rules that can be read and judged, and would still say the same of every job: for whoever writes
// a file. Judging takes them, as jobs may stand under such a file.
//
// Threads: pure functions.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/result.h"
#include "daemon/judge/judge.h"

namespace fairlead::judge {

/// What is senseless in a procedure file, a line each, as "file:line:column: field: what; what to
/// do". Empty where the file cannot be read (compile_procedure says why).
[[nodiscard]] std::vector<std::string> senseless_rules(const SourceFile& file);

/// Whether a line can hold the word behind the colon of a known event, where their list is closed:
/// another makes an event that never comes, and a rule that accuses whoever did what was meant.
[[nodiscard]] Status check_member(std::string_view event);

}  // namespace fairlead::judge
