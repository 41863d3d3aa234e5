// Makes a base's data folder that holds the invented year: twelve enrolled trucks with keys of
// their own, every entry signed and chained under the truck's clock, every job judged by the base's
// own watch, claims opened at the desk. Only the network is left out.
//
// Threads: one call at a time; starts its own.
#pragma once

#include <filesystem>
#include <functional>
#include <string>

#include "clients/sim/year/plan.h"
#include "daemon/base/result.h"

namespace fairlead::sim {

struct YearFiles {
  std::filesystem::path data;        // Made; must not be there yet.
  std::filesystem::path traces;      // tests/traces
  std::filesystem::path fleet;       // clients/sim/fleet
  std::filesystem::path procedures;  // daemon/judge/procedures
};

/// Leaves truth.json beside the ledger: what was drawn, and what each variant's trace, judged alone
/// for each truck, makes of every rule. `say` gets progress. Errors: of files, kConflict where the
/// folder is there, of the base.
[[nodiscard]] Status make_year(const YearPlan& plan, const YearFiles& files,
                               const std::function<void(const std::string&)>& say);

}  // namespace fairlead::sim
