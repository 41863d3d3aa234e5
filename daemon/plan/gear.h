// The gear a plan may count on: what the truck carries, in service, in date and without a defect
// that voids it; and the smallest set of it that suffices.
//
// Threads: pure functions. Units: kg of working load limit.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/physics/securement_wll.h"
#include "daemon/plan/numbers.h"
#include "daemon/plan/plan.h"

namespace fairlead::plan {

/// One piece. `wll_kg` is the weaker of it and its anchor.
struct Piece {
  const judge::GearItem* item = nullptr;
  Interval wll_kg;
  std::optional<Interval> anchor_kg{};  // Absent: no file names its anchor.
  Verdict counts = Verdict::kMet;       // Deviated pieces are not listed.
};

/// What its tag or the table gives it.
[[nodiscard]] Interval rating_kg(const judge::GearItem& item);

struct GearBag {
  std::vector<Piece> tiedowns;  // Straps and chains, weakest first.
  std::vector<Piece> rigging;   // What may stand between line and car.
  std::vector<Piece> blocks;    // For more line parts.
  std::vector<std::string> notes;
};
/// Errors: kNotFound for a piece named in the request that the register lacks.
[[nodiscard]] Result<GearBag> gear_for(const judge::RegisterBook& book, const Request& request);

/// Tiedowns chosen, in the order LF, RF, LR, RR and on; a piece named after a wheel goes there.
struct StrapSet {
  std::vector<Piece> pieces;
  physics::Path path = physics::Path::kSameSide;
  bool suffices = false;  // By the rules in force, with the least figures.
  /// Of four alike that would do; absent where no rating would, or it is not known where they pull.
  std::optional<double> least_each_kg{};
};
/// Fewest pieces (four at least) that suffice by the rules in force, and of these the set with the
/// least sum of ratings, so that the stronger ones stay free; where nothing suffices, the
/// strongest.
[[nodiscard]] StrapSet smallest_strap_set(const GearBag& bag, const Numbers& numbers,
                                          physics::Path path);

/// Wheel of the n-th piece.
[[nodiscard]] std::string wheel_of(size_t n);
/// As the rules see them; with legs where it is known where straps pull. Errors: kBadInput for an
/// angle outside 0 to 90 degrees.
[[nodiscard]] Result<std::vector<physics::PlacedTiedown>> placed(const StrapSet& straps,
                                                                 const Numbers& numbers);

}  // namespace fairlead::plan
