// Lashing forces as EN 12195-1 gives them for road vehicles over 3.5 t, and the tie-down form of
// VDI 2700 sheet 2. Formulas from memory, consistent with the secondary sources read (comparison
// slides of the revision; a teaching page of the CTU Code): get the standard before relying on
// them. The edition stands with every result, as it changes the answer by a third and more.
//
// Over-top tilting is not here: only whether a load is stable unlashed.
//
// Threads: pure functions. Units: kg, N, degrees to the deck (90 straight down) and in plan from
// the direction of the force. g is 9.81 m/s2 here, as in the standard.
#pragma once

#include <string_view>
#include <vector>

#include "daemon/physics/check.h"

namespace fairlead::physics {

inline constexpr double kGravityEn = 9.81;

enum class Edition {
  k2003,  // Transmission k 1.5, dynamic friction 0.7 of static, no further factor.
  k2010,  // k 2, friction as it is, safety factor f_s.
};
[[nodiscard]] constexpr std::string_view word_of(Edition edition) {
  return edition == Edition::k2003 ? "EN 12195-1:2003" : "EN 12195-1:2010";
}

/// Direction of the force, with its coefficient c_x or c_y; c_z is 1.
enum class Force { kForward, kRearward, kSideways };
[[nodiscard]] constexpr double coefficient(Force force) {
  return force == Force::kForward ? 0.8 : 0.5;
}
/// f_s of friction lashing, edition 2010: 1.25 forward (from memory), 1.1 otherwise.
[[nodiscard]] constexpr double friction_safety(Force force) {
  return force == Force::kForward ? 1.25 : 1.1;
}
inline constexpr double kDynamicShare2003 = 0.7;
inline constexpr double kDynamicShareDirect = 0.75;  // f_mu of direct lashing, edition 2010.

struct OverTop {
  Interval mass_kg, friction, to_deck_deg, pretension_n;
};
struct LashingNeed {
  Interval number;  // As the formula gives it.
  Interval whole;   // Rounded up to lashings; unbounded where friction may be 0.
  std::string_view edition;
};
/// Friction (over-top) lashings needed against sliding. 0 where friction alone holds. Errors:
/// kBadInput for an angle outside 0 to 90 degrees, friction outside 0 to 1, negative or NaN input.
[[nodiscard]] Result<LashingNeed> over_top_lashings(const OverTop& load, Force force,
                                                    Edition edition);
/// Mass that one over-top lashing holds; unbounded where friction alone holds any mass.
[[nodiscard]] Result<Interval> mass_per_over_top_kg(Interval friction, Interval to_deck_deg,
                                                    Interval pretension_n, Force force,
                                                    Edition edition);
/// Pretension S_TF must lie within 0.1 to 0.5 of the lashing capacity LC. Errors: kBadInput for
/// either being negative or NaN.
[[nodiscard]] Result<std::vector<Check>> check_pretension(Interval pretension_n,
                                                          Interval capacity_n);

struct Diagonal {
  Interval mass_kg, friction, to_deck_deg, to_force_deg;
  int effective = 2;  // Lashings that pull against this direction.
};
/// Force F_R in each of the effective lashings, against LC. Errors: as over_top_lashings; angles
/// within 0 to 90 degrees; effective from 1 to 64.
[[nodiscard]] Result<Check> check_direct_lashing(const Diagonal& load, Interval capacity_n,
                                                 Force force, Edition edition);

/// Total pretension by VDI 2700 sheet 2: G (c - mu) / (mu k sin a), N.
[[nodiscard]] Result<Interval> vdi_total_pretension_n(Interval weight_n, double c,
                                                      Interval friction, double transmission,
                                                      Interval to_deck_deg);

/// Stable without lashing while b / h > c / c_z: horizontal distance from the centre of gravity to
/// the tilting edge over its height. Errors: kBadInput for a height that is not positive.
[[nodiscard]] Result<Check> check_tilting_unlashed(Interval b_m, Interval h_m, Force force);

}  // namespace fairlead::physics
