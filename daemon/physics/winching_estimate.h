// The pull to expect at a site, and the fewest line parts that make it.
//
// For evidence: exact sine, no margin. For planning: the rule of thumb for the grade and a quarter
// more. Either way the family of surface figures is named; without a choice both count and the
// answer spans them.
//
// Threads: pure functions. Units: kg, degrees, N.
#pragma once

#include <optional>
#include <string>

#include "daemon/physics/winching_resistance.h"
#include "daemon/physics/winching_tackle.h"

namespace fairlead::physics {

enum class Purpose { kEvidence, kPlanning };

struct PullSite {
  Interval mass_kg;
  Interval slope_deg;  // Up the way of the pull positive.
  Surface surface = Surface::kHardRoad;
  std::optional<SurfaceFamily> family;
  Mire mire = Mire::kNone;
  MireRule mire_rule = MireRule::kAdded;
  bool wheels_locked = false;  // Then the wheels slide: 2/3 in place of rolling.
  bool overturned = false;
};

struct PullEstimate {
  Resistance parts;   // Shares of the weight.
  Interval pull_n;    // Never below 0: downhill it may roll by itself.
  std::string basis;  // Family, form of the grade and margin in words.
};
/// Errors: kBadInput for a mass or slope no formula holds for, kNotFound for a family that has no
/// figure for the surface.
[[nodiscard]] Result<PullEstimate> estimate_pull(const PullSite& site, Purpose purpose);

/// Fewest line parts with one sheave for each part beyond the first, their own losses counted, so
/// that the line pull stays within what the winch and the line allow.
struct PartsPlan {
  Tackle tackle;
  TackleLoads loads;
};
inline constexpr int kMostParts = 8;  // Beyond this the sheaves eat what the parts give.
/// nullopt: not surely within the limit with up to kMostParts. Errors: as tackle_loads.
[[nodiscard]] Result<std::optional<PartsPlan>> fewest_parts(Interval pull_n, Interval available_n);

}  // namespace fairlead::physics
