// Axle loads of a truck with a car on its deck, or with a load lifted behind it: a beam on two
// supports (a tandem counts as one at its centre). Scale weights go in, not ratings.
//
// Sources: moments about an axle (statics). The trade's rule that half the scaled front-axle weight
// must stay on is convention of unknown origin, not law. Classes by GVWR: 49 CFR 565.15 and the
// federal highway classes, from memory; 10,001 lb (390.5) and 26,001 lb (383.5, from memory).
// Nothing here is legal advice; the makers' ratings go first.
//
// Threads: pure functions. Units: kg of weight on a support, metres along the truck.
// Errors: kBadInput, naming the input. Fuzzy inputs: interval.h's over_corners, each function being
// monotone in each of its arguments.
#pragma once

#include <optional>

#include "daemon/physics/interval.h"

namespace fairlead::physics {

struct AxlePair {
  double front_kg = 0, rear_kg = 0;
  [[nodiscard]] double total_kg() const { return front_kg + rear_kg; }
};

/// Reactions with a load whose centre of mass lies `ahead_m` in front of the rear axle; negative:
/// behind it, which unloads the front axle, and below 0 lifts it.
[[nodiscard]] Result<AxlePair> axle_loads(const AxlePair& unladen, double wheelbase_m,
                                          double load_kg, double ahead_m);

/// Margins of one load case; a rating that no file gives has no margin.
struct AxleRatings {
  std::optional<double> front_kg, rear_kg, gvwr_kg, payload_kg;
};
struct AxleMargins {
  std::optional<Interval> front_kg, rear_kg, gvwr_kg, payload_kg;
  Interval steer_share;  // Laden front over unladen front.
};
[[nodiscard]] Result<AxleMargins> axle_margins(const AxlePair& unladen, double wheelbase_m,
                                               const AxleRatings& ratings, const Interval& load_kg,
                                               const Interval& ahead_m);

/// Where the centre of mass may lie (ahead of the rear axle) so that neither axle is over its
/// rating and the front keeps `steer_share` of its unladen weight; nullopt: nowhere.
[[nodiscard]] Result<std::optional<Interval>> place_for(const AxlePair& unladen, double wheelbase_m,
                                                        const AxleRatings& ratings, double load_kg,
                                                        double steer_share);

/// Most that may be lifted at `overhang_m` behind the rear axle while the front keeps `steer_share`
/// of its scaled weight: (1 - share) FAW WB / OH. Convention, not law.
[[nodiscard]] Result<double> most_lifted_kg(double front_scaled_kg, double wheelbase_m,
                                            double overhang_m, double steer_share = 0.5);

/// 1 to 8 by gross vehicle weight rating; the classes' bounds are pounds.
[[nodiscard]] Result<int> gvwr_class(double gvwr_kg);
/// A commercial licence for one vehicle, or for a combination with a towed unit. Loads on the deck
/// are cargo and do not count as towed.
[[nodiscard]] Result<bool> needs_commercial_licence(double gvwr_kg, double towed_gvwr_kg = 0);

}  // namespace fairlead::physics
