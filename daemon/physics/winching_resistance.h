// How hard a vehicle resists a pull, as a share of its weight: surface, grade, mire, damage.
//
// Two published families of surface figures disagree by 2.5 times on hard ground, so the family is
// a named input and stands with the result. Sources: a military and off-road table (hard road, wet
// sand, bog read in secondary sources, the rest from memory); a coarser US service rule
// (secondary). Grade: exactly W sin a for evidence; the planning rule W a / 60 up to 45 degrees and
// W above it is low below 30 degrees (by 3.4 % at 15, 4.5 % at small angles) and high above.
//
// Threads: pure functions. Units: degrees; a share has none, so share x weight is in the weight's
// unit.
#pragma once

#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "daemon/physics/check.h"

namespace fairlead::physics {

enum class Surface {
  kHardRoad,
  kGrass,
  kHardWetSand,
  kGravel,
  kSoftWetSand,
  kSoftDrySand,
  kShallowMud,
  kBog,  // Marsh, clinging clay.
};
[[nodiscard]] std::string_view word_of(Surface surface);

enum class SurfaceFamily { kFieldTable, kServiceRule };
/// Name and version, as results carry it.
[[nodiscard]] std::string_view name_of(SurfaceFamily family);

struct SurfaceShare {
  Surface surface;
  double share;
  Standing standing;
};
[[nodiscard]] std::span<const SurfaceShare> surface_shares(SurfaceFamily family);
/// nullopt where the family has no figure. Rolling wheels.
[[nodiscard]] std::optional<double> surface_share(SurfaceFamily family, Surface surface);
/// From the least to the most that the families say: for when nobody chose one.
[[nodiscard]] Interval surface_share_of_all(Surface surface);

inline constexpr double kLockedWheelsShare = 2.0 / 3;  // Service rule, secondary source.
inline constexpr double kOverturnedShare = 0.5;        // From memory.

/// Up the slope positive. Errors of these: kBadInput outside -90 to 90 degrees.
[[nodiscard]] Result<Interval> grade_share_exact(Interval slope_deg);
[[nodiscard]] Result<Interval> grade_share_rule(Interval slope_deg);
/// 100 % is 45 degrees.
[[nodiscard]] double degrees_of_percent(double percent);

/// How deep it sits: share of the weight, US Army figures (wording from memory).
enum class Mire { kNone, kWheels, kFenders, kCab };
[[nodiscard]] constexpr double mire_share(Mire mire) { return static_cast<double>(mire); }

/// Whether mire and grade add up: they do by the civil rule, not by the Army's (from memory).
enum class MireRule { kAdded, kInsteadOfGrade };

struct Resistance {
  Interval surface, grade, mire, damage;  // Shares of the weight.
};
/// Total share. A mired vehicle's mire stands in place of its surface.
[[nodiscard]] Interval total_share(const Resistance& parts, MireRule rule);

/// Army reductions (from memory): the way it came, -10 %; own tracks driven, -40 %; both, -50 %.
[[nodiscard]] constexpr double reduction(bool way_it_came, bool own_drive) {
  return way_it_came && own_drive ? 0.5 : own_drive ? 0.6 : way_it_came ? 0.9 : 1;
}

/// Pull to plan for: a quarter more than the estimate.
inline constexpr double kPlanningMargin = 1.25;

/// Free-rolling and locked-wheel pull in N on a slope, exact: what `plan` and the pull on record
/// are held against. Errors: kBadInput.
struct RollingPulls {
  Interval free_n, locked_n;
};
[[nodiscard]] Result<RollingPulls> rolling_pulls_n(Interval mass_kg, Interval slope_deg,
                                                   Interval rolling_share);

}  // namespace fairlead::physics
