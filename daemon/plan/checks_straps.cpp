#include <fmt/format.h>

#include <cmath>

#include "daemon/plan/checks.h"

namespace fairlead::plan {
namespace {

// "strength.forward", "held.left", "held.breaking.left": forces by their direction; the others by
// their place.
std::string id_of(const physics::Check& check, size_t place, bool by_forces) {
  constexpr std::string_view kHeld = "held ";
  if (!check.what.starts_with(kHeld))
    return place == 0 ? "strength" : fmt::format("strength.{}", place + 1);
  const std::string direction = check.what.substr(check.what.rfind(' ') + 1);
  const bool breaking = check.origin == physics::kBreakingNeed.origin;
  return fmt::format("{}.{}{}", by_forces ? "strength" : "held", breaking ? "breaking." : "",
                     direction);
}

}  // namespace

Result<Checks> strap_checks(const Numbers& n, const StrapSet& straps) {
  if (!std::isfinite(n.mass_kg.hi)) {
    return Checks{missing("strength", "tiedowns", "kg", "the car's mass is not known")};
  }
  const auto tiedowns = placed(straps, n);
  if (!tiedowns) return std::unexpected(tiedowns.error());
  physics::VehicleLoad load{
      .weight = n.mass_kg, .tiedowns = *tiedowns, .count = n.count, .friction = n.friction};
  const bool by_forces = physics::asks_for_directions(n.rules);
  const auto found = physics::check_securement(load, n.rules);
  if (!found) return std::unexpected(found.error());
  Checks out;
  for (size_t i = 0; i < found->size(); ++i) {
    physics::Check check = (*found)[i];
    if (by_forces && !n.strap_way && !straps.pieces.empty())
      check.words +=
          ": say --strap-deck and --strap-aside, or give the truck file strap_reach and "
          "strap_aside and the vehicle file wheel_diameter";
    out.push_back({id_of(check, i, by_forces), check});
  }
  return out;
}

}  // namespace fairlead::plan
