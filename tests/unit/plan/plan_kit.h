// What the plan's tests share: the invented fleet, and a request for the scenario's load.
//
// Threads: pure functions; they read clients/sim/fleet.
#pragma once

#include <string>

#include "daemon/plan/plan.h"

namespace fairlead::plan {

/// Files of clients/sim/fleet, with `more` as a further register text. Fails the test on errors.
[[nodiscard]] judge::RegisterBook fleet(const std::string& more = "");
/// Load from 3.6 m away on hard, level road, on 2026-11-29.
[[nodiscard]] Request load_of(const std::string& vehicle, const std::string& truck);
[[nodiscard]] Plan plan_for(const judge::RegisterBook& book, const Request& request);
[[nodiscard]] const PlanCheck& check_of(const Plan& plan, const std::string& id);

}  // namespace fairlead::plan
