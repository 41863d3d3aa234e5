// Which defects take a tiedown out of the count.
//
// Webbing: cuts, holes and tears added up across the width, against the sizes of the North American
// out-of-service classification (read in a training deck, a secondary source). Knots: 49 CFR
// 393.104(f)(1). Cracks and cuts of any part: 393.104(b). Burns, broken stitches and bent fittings:
// the removal list for web slings, 29 CFR 1910.184(i)(9), kept for tiedowns as common practice.
//
// Threads: pure functions. Units: mm.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "daemon/physics/check.h"

namespace fairlead::physics {

/// Largest damage that webbing of that width may show and still count (that of the next smaller
/// printed width), mm; nullopt below the smallest printed width.
[[nodiscard]] std::optional<double> webbing_damage_limit_mm(double width_mm);

/// Damage against the limit. Webbing narrower than any printed width is unproven unless whole.
/// Errors: kBadInput for a negative or NaN size.
[[nodiscard]] Result<Check> check_webbing_damage(double width_mm, Interval damage_mm);

struct DefectFinding {
  Verdict counts = Verdict::kMet;  // Deviated: never counts. Unproven: the words do not tell.
  std::string why;                 // With the rule that says so; empty if there is no defect.
};

/// Reads a defect as people write it: phrases parted by commas or semicolons, as "knot",
/// "cut 12 mm", "melted". `width_mm` 0: not webbing, or not known. The worst phrase decides; a
/// phrase that is not in the list leaves the piece unproven.
[[nodiscard]] DefectFinding judge_defect(std::string_view text, double width_mm);

}  // namespace fairlead::physics
