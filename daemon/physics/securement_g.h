// What a set of tiedowns holds in each direction, in g, against the figures of 49 CFR 393.102.
//
// | 393.102 | forward | rearward | sideways | limit |
// |---|---|---|---|---|
// | (a)(1) | 0.8 | 0.5 | 0.5 | maker's breaking strength |
// | (a)(2) | 0.435 | 0.5 | 0.25 | working load limit |
// | (b) | | | | 0.2 of the weight downward, where the structure does not contain the load |
//
// The directions are applied one at a time. Each leg that pulls against the movement counts at its
// limit times the cosine of its direction, as the rule's sums read; how a real load shares itself
// out is shares_at(). Friction counts only if the caller names a coefficient; 393.108(g) gives an
// unmarked friction mat 0.5.
//
// Threads: pure functions. Units: N, kg, degrees, g (9.80665 m/s2).
#pragma once

#include <span>

#include "daemon/physics/check.h"
#include "daemon/physics/securement_parts.h"

namespace fairlead::physics {

inline constexpr double kFrictionMat = 0.5;    // 393.108(g)
inline constexpr double kDownwardShare = 0.2;  // 393.102(b)

/// g figures of one row of the table.
struct GNeed {
  double forward, rearward, sideways;
  std::string_view origin;
};
inline constexpr GNeed kBreakingNeed{0.8, 0.5, 0.5, "49 CFR 393.102(a)(1), breaking strength"};
inline constexpr GNeed kWorkingNeed{0.435, 0.5, 0.25, "49 CFR 393.102(a)(2), working load limit"};

/// A tiedown as forces see it.
struct Restraint {
  Interval limit_n;           // Of the weakest part: working load limit or breaking strength.
  std::vector<Leg> legs;      // Legs of one tiedown carry one tension.
  bool over_the_top = false;  // Holds by friction only, with the tension it was drawn to.
  Interval pretension_n;      // For over_the_top.
};

struct GCapacity {
  Interval forward, rearward, left, right,
      down;  // down: downward restraint as share of the weight.
};

/// Errors: kBadInput for a mass that is not positive, a limit that is negative or NaN, an angle to
/// the deck outside 0 to 90 degrees, a friction outside 0 to 2.
[[nodiscard]] Result<GCapacity> g_capacity(std::span<const Restraint> restraints, Interval mass_kg,
                                           Interval friction);

/// Four checks against a row of the table, with downward restraint as a fifth.
[[nodiscard]] std::vector<Check> check_g(const GCapacity& capacity, const GNeed& need);

enum class Direction { kForward, kRearward, kLeft, kRight };

/// How equal straps would share a force in that direction: tension of each restraint in N, in
/// proportion to the cosines of its legs over `length_m` (a longer strap is softer); middle
/// values of all inputs. For drawings, and to name the strap that is loaded most.
[[nodiscard]] std::vector<double> shares_at(std::span<const Restraint> restraints,
                                            std::span<const double> length_m, Direction direction,
                                            double force_n);

}  // namespace fairlead::physics
