// What would make a job possible that the plan says no to, or not shown, the smallest change first:
// back the truck up, ramps, stand the car elsewhere, other straps, more line parts, another truck.
//
// Threads: pure functions.
#pragma once

#include "daemon/plan/plan.h"

namespace fairlead::plan {

/// A plan without steps and changes.
[[nodiscard]] Result<Plan> checked_plan(const judge::RegisterBook& book, const Request& request);

/// Sentences; empty when nothing in the register helps and nothing failed that a change would mend.
[[nodiscard]] std::vector<std::string> changes_for(const judge::RegisterBook& book,
                                                   const Request& request, const Plan& plan);

}  // namespace fairlead::plan
