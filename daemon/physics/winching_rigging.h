// What the rigging between winch and vehicle may carry, its weakest part, and a measured peak held
// against all of it: the drum layer in use, the line, every piece of gear, the tow eye.
//
// Threads: pure functions. Units: N.
#pragma once

#include <span>
#include <vector>

#include "daemon/physics/check.h"

namespace fairlead::physics {

/// Breaking strength over working load limit.
enum class Rigging {
  kWireRopeSling,
  kSyntheticSling,
  kAlloyChainSling,
  kShackle,
  kTiedown,  // Webbing assemblies, a trade body's rule: at most a third of breaking strength.
};
struct DesignFactor {
  double factor;
  Standing standing;
};
[[nodiscard]] DesignFactor design_factor(Rigging kind);
/// Working load limit from breaking strength.
[[nodiscard]] Interval limit_from_strength_n(Rigging kind, Interval breaking_n);
/// Chain of grade 30, 43 and 70 is not for lifting overhead (secondary source).
[[nodiscard]] constexpr bool may_lift_overhead(int chain_grade) { return chain_grade >= 80; }

/// One part and how much of the line's pull it sees: 1 in line, a bridle leg its share, a block
/// what its angle makes of it.
struct RiggingPart {
  std::string name;
  Interval limit_n;
  Interval share_of_line = exactly(1);
  /// As for tiedowns: deviated never counts (limit 0), unproven may not.
  Verdict counts = Verdict::kMet;
  std::string why;
};

/// Line pull at which the first part reaches its limit, and which part that is.
struct WeakestRigging {
  Interval line_pull_n;
  std::string part;
};
/// Unbounded and unnamed for no parts.
[[nodiscard]] WeakestRigging weakest_rigging(std::span<const RiggingPart> parts);

/// A measured peak line pull against every part, one check a part. Errors: kBadInput for a peak or
/// a limit that is negative or NaN, a share outside 0 to 100.
[[nodiscard]] Result<std::vector<Check>> check_peak(Interval peak_n,
                                                    std::span<const RiggingPart> parts);

}  // namespace fairlead::physics
