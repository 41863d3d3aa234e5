#include "daemon/physics/winching_resistance.h"

#include <algorithm>
#include <array>
#include <numbers>

#include "daemon/physics/angles.h"
#include "daemon/physics/securement_parts.h"

namespace fairlead::physics {
namespace {

constexpr auto kSecond = Standing::kSecondary;
constexpr auto kMemory = Standing::kMemory;

constexpr std::array kField{SurfaceShare{Surface::kHardRoad, 1.0 / 25, kSecond},
                            SurfaceShare{Surface::kGrass, 1.0 / 7, kMemory},
                            SurfaceShare{Surface::kHardWetSand, 1.0 / 6, kSecond},
                            SurfaceShare{Surface::kGravel, 1.0 / 5, kMemory},
                            SurfaceShare{Surface::kSoftWetSand, 1.0 / 5, kMemory},
                            SurfaceShare{Surface::kSoftDrySand, 1.0 / 4, kMemory},
                            SurfaceShare{Surface::kShallowMud, 1.0 / 3, kMemory},
                            SurfaceShare{Surface::kBog, 1.0 / 2, kSecond}};
constexpr std::array kService{SurfaceShare{Surface::kHardRoad, 1.0 / 10, kSecond},
                              SurfaceShare{Surface::kGrass, 1.0 / 3, kSecond},
                              SurfaceShare{Surface::kGravel, 1.0 / 3, kSecond}};

constexpr Interval kSlope{-90, 90};

double by_rule(double degrees) {
  const double size = std::abs(degrees);
  const double share = size <= 45 ? size / 60 : 1;
  return degrees < 0 ? -share : share;
}

}  // namespace

std::string_view word_of(Surface surface) {
  switch (surface) {
    case Surface::kHardRoad:
      return "hard road";
    case Surface::kGrass:
      return "grass";
    case Surface::kHardWetSand:
      return "hard wet sand";
    case Surface::kGravel:
      return "gravel";
    case Surface::kSoftWetSand:
      return "soft wet sand";
    case Surface::kSoftDrySand:
      return "soft dry sand";
    case Surface::kShallowMud:
      return "shallow mud";
    case Surface::kBog:
      return "bog, marsh or clinging clay";
  }
  return "";
}

std::string_view name_of(SurfaceFamily family) {
  return family == SurfaceFamily::kFieldTable ? "military and off-road table, version 1"
                                              : "US service rule, version 1";
}

std::span<const SurfaceShare> surface_shares(SurfaceFamily family) {
  if (family == SurfaceFamily::kFieldTable) return kField;
  return kService;
}

std::optional<double> surface_share(SurfaceFamily family, Surface surface) {
  for (const SurfaceShare& row : surface_shares(family)) {
    if (row.surface == surface) return row.share;
  }
  return std::nullopt;
}

Interval surface_share_of_all(Surface surface) {
  Interval all{kNoBound, -kNoBound};
  for (const SurfaceFamily family : {SurfaceFamily::kFieldTable, SurfaceFamily::kServiceRule}) {
    if (const auto share = surface_share(family, surface))
      all = {std::min(all.lo, *share), std::max(all.hi, *share)};
  }
  return all;
}

Result<Interval> grade_share_exact(Interval slope_deg) {
  if (auto ok = check_input("slope_deg", slope_deg, kSlope); !ok)
    return std::unexpected(ok.error());
  return sin_over(slope_deg);
}

Result<Interval> grade_share_rule(Interval slope_deg) {
  if (auto ok = check_input("slope_deg", slope_deg, kSlope); !ok)
    return std::unexpected(ok.error());
  return over_corners(by_rule, slope_deg);
}

double degrees_of_percent(double percent) {
  return std::atan(percent / 100) * 180 / std::numbers::pi;
}

Interval total_share(const Resistance& parts, MireRule rule) {
  const Interval firm = parts.surface + parts.grade + parts.damage;
  const Interval below = rule == MireRule::kAdded ? parts.grade : exactly(0);
  const Interval mired = parts.mire + below + parts.damage;
  if (parts.mire.lo > 0) return mired;
  if (parts.mire.hi <= 0) return firm;
  return {std::min(firm.lo, mired.lo), std::max(firm.hi, mired.hi)};
}

Result<RollingPulls> rolling_pulls_n(Interval mass_kg, Interval slope_deg, Interval rolling_share) {
  if (auto ok = check_input("mass_kg", mass_kg, {0, 1e7}); !ok) return std::unexpected(ok.error());
  if (auto ok = check_input("slope_deg", slope_deg, kSlope); !ok)
    return std::unexpected(ok.error());
  if (auto ok = check_input("rolling_share", rolling_share, {0, 2}); !ok)
    return std::unexpected(ok.error());
  const auto pull = [&](const Interval& share) {
    // Least and most over the slope: sin a + r cos a has at most one top inside, at tan a = 1 / r.
    const auto at = [](double mass, double slope, double r) {
      return mass * kStandardGravity * (sin_deg(slope) + r * cos_deg(slope));
    };
    Interval pull_n = over_corners(at, mass_kg, slope_deg, share);
    const double top = std::atan2(1, share.hi) * 180 / std::numbers::pi;
    if (top > slope_deg.lo && top < slope_deg.hi)
      pull_n.hi = std::max(pull_n.hi, at(mass_kg.hi, top, share.hi));
    return pull_n;
  };
  return RollingPulls{pull(rolling_share), pull(exactly(kLockedWheelsShare))};
}

}  // namespace fairlead::physics
