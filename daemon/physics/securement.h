// A vehicle on a deck held by its tiedowns: every check that the rules of the base's jurisdiction
// ask for, each with its margin and where it comes from. Which rules hold is a choice of the base;
// nothing here is legal advice.
//
// Threads: pure functions. Units: kg or lb, one for ratings and weight (securement_parts.h).
#pragma once

#include <span>

#include "daemon/physics/securement_counts.h"
#include "daemon/physics/securement_g.h"

namespace fairlead::physics {

enum class Jurisdiction {
  kUnitedStates,  // 49 CFR 393.102, .106, .128, .130
  kCanada,        // NSC Standard 10: the aggregate only; its counts are not in our tables.
  kEurope2003,    // EN 12195-1:2003
  kEurope2010,    // EN 12195-1:2010
};
/// "us-49cfr", "ca-nsc10", "en12195-2003", "en12195-2010". Errors: kBadInput, naming all.
[[nodiscard]] Result<Jurisdiction> jurisdiction_named(std::string_view name);
[[nodiscard]] std::string_view name_of(Jurisdiction jurisdiction);
/// The rules by their own name, with the edition where there are several.
[[nodiscard]] std::string_view rules_of(Jurisdiction jurisdiction);
/// Rules that ask for forces, and so for the directions in which tiedowns pull.
[[nodiscard]] constexpr bool asks_for_directions(Jurisdiction jurisdiction) {
  return jurisdiction == Jurisdiction::kEurope2003 || jurisdiction == Jurisdiction::kEurope2010;
}

struct VehicleLoad {
  Interval weight;
  WeightUnit unit = WeightUnit::kKg;
  std::vector<PlacedTiedown> tiedowns;
  VehicleCount count = VehicleCount::kFour;
  Interval friction = exactly(0);  // Of tyres on the deck; counted only where the caller names it.
};

/// The strength comes first, then numbers, then forces ("held ..."), by breaking strength too where
/// a part's is known. Forces need the legs of every tiedown; without them the check is one line,
/// unproven under EN 12195-1, and left out under 49 CFR, where they decide only while the other
/// rules are not met, as 393.102(c) deems them met by those. A tiedown ACROSS counts in forces by
/// the friction of half its limit at most. Errors: kBadInput for figures no rule holds for.
[[nodiscard]] Result<std::vector<Check>> check_securement(const VehicleLoad& load,
                                                          Jurisdiction jurisdiction);

/// What the tiedowns are as forces, in newtons, in the given order: by working load limits, or by
/// breaking strengths as 393.102(a)(1) has it.
enum class Strength { kWorking, kBreaking };
[[nodiscard]] std::vector<Restraint> restraints_of(std::span<const PlacedTiedown> placed,
                                                   WeightUnit unit,
                                                   Strength strength = Strength::kWorking);

}  // namespace fairlead::physics
