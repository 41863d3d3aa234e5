// What rules and facts are built on, by name: for doubt to spread from two sources that disagree.
//
// Threads: pure functions.
#pragma once

#include <set>
#include <string>

#include "daemon/judge/rulebook.h"

namespace fairlead::judge {

/// Facts and quantities the rule looks at, with all that those are worked out from.
[[nodiscard]] std::set<std::string> built_on(const Procedure& procedure, const Rule& rule);

/// The same of one event, fact or quantity.
[[nodiscard]] std::set<std::string> built_on(const Procedure& procedure, const std::string& name);

}  // namespace fairlead::judge
