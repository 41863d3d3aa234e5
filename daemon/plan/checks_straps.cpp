#include <fmt/format.h>

#include <cmath>

#include "daemon/plan/checks.h"

namespace fairlead::plan {

Result<Checks> strap_checks(const Numbers& n, const StrapSet& straps,
                            physics::Jurisdiction jurisdiction) {
  if (!std::isfinite(n.mass_kg.hi)) {
    return Checks{missing("strength", "tiedowns", "kg", "the car's mass is not known")};
  }
  physics::VehicleLoad load{.weight = n.mass_kg, .tiedowns = placed(straps)};
  const auto found = physics::check_securement(load, jurisdiction);
  if (!found) return std::unexpected(found.error());
  Checks out;
  for (size_t i = 0; i < found->size(); ++i)
    out.push_back({i == 0 ? "strength" : fmt::format("strength.{}", i + 1), (*found)[i]});
  return out;
}

}  // namespace fairlead::plan
