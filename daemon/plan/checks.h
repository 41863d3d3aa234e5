// The checks of a plan, in groups. Each group is a plain function of the numbers and is run twice:
// with the ranges and with their middles, for the best margin.
//
// A check whose inputs no file gives is unproven and says which figure is missing.
//
// Threads: pure functions. Units: SI and degrees inside; a check's own unit in its text.
#pragma once

#include "daemon/plan/gear.h"
#include "daemon/plan/numbers.h"

namespace fairlead::plan {

struct NamedCheck {
  std::string id;
  physics::Check check;
};
using Checks = std::vector<NamedCheck>;

/// Deck length, payload, axles, class weights, what touches at the deck's edge.
[[nodiscard]] Result<Checks> deck_checks(const Numbers& numbers);
/// Way on its own wheels.
[[nodiscard]] Checks way_checks(const Numbers& numbers, Mode mode);
/// Tiedowns, by the rules in force; forces in each direction where it is known where they pull.
[[nodiscard]] Result<Checks> strap_checks(const Numbers& numbers, const StrapSet& straps);

/// The pull on the line, winch layer, attachment points and rope. For kUnload only the holding
/// back.
struct PullPlan {
  Checks checks;
  LinePlan line;
};
[[nodiscard]] Result<PullPlan> pull_checks(const Numbers& numbers, const Request& request,
                                           const judge::VehicleItem& vehicle,
                                           const judge::TruckItem& truck, const GearBag& bag);

/// A check that cannot be made: unproven, with the figure that is missing.
[[nodiscard]] NamedCheck missing(std::string id, std::string what, std::string unit,
                                 std::string words);

}  // namespace fairlead::plan
