// Which records would decide an unproven finding, named as closely as the record allows.
//
// Threads: a JobView belongs to one thread.
#pragma once

#include <string>
#include <vector>

#include "daemon/judge/forms.h"

namespace fairlead::judge {

/// Lines known to be missing, readings where there are none, what no file and nobody says; else
/// what the reason asks for. Empty for a finding that is not unproven.
[[nodiscard]] std::vector<std::string> would_decide(JobView& view, const Rule& rule,
                                                    const Outcome& outcome);

}  // namespace fairlead::judge
