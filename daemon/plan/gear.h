// The gear a plan may count on: what the truck carries, in service, in date and without a defect
// that voids it; and the smallest set of it that suffices.
//
// Threads: pure functions. Units: kg of working load limit.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/physics/securement_wll.h"
#include "daemon/plan/plan.h"

namespace fairlead::plan {

/// One piece. `wll_kg` is the weaker of it and its anchor.
struct Piece {
  const judge::GearItem* item = nullptr;
  Interval wll_kg;
  std::optional<Interval> anchor_kg{};  // Absent: no file names its anchor.
  Verdict counts = Verdict::kMet;       // Deviated pieces are not listed.
};

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
  bool suffices = false;     // By 393.106(d) and the number, with the least figures.
  double needed_kg = 0;      // Half the greatest mass.
  double least_each_kg = 0;  // Of four alike that would do.
};
/// Fewest pieces (four at least) that reach half the greatest mass, and of these the set with the
/// least sum of ratings, so that the stronger ones stay free; where nothing suffices, the
/// strongest.
[[nodiscard]] StrapSet smallest_strap_set(const GearBag& bag, const Interval& mass_kg,
                                          physics::Path path);

/// Wheel of the n-th piece.
[[nodiscard]] std::string wheel_of(size_t n);
/// As the rules see them. Which way a strap will pull is not known before it is on: no legs.
[[nodiscard]] std::vector<physics::PlacedTiedown> placed(const StrapSet& straps);

}  // namespace fairlead::plan
