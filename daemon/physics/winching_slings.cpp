#include "daemon/physics/winching_slings.h"

#include <array>

#include "daemon/physics/angles.h"

namespace fairlead::physics {
namespace {

constexpr std::string_view kOsha = "29 CFR 1910.184(i)(9), 1926.251(e)";
constexpr std::string_view kAsme = "ASME B30.9";
constexpr auto kRead = Standing::kPublished;
constexpr auto kSecond = Standing::kSecondary;

constexpr std::array kReasons{
    RemovalReason{"acid or caustic burns", kOsha, kRead},
    RemovalReason{"melting or charring of any part", kOsha, kRead},
    RemovalReason{"snags, punctures, tears or cuts", kOsha, kRead},
    RemovalReason{"broken or worn stitches", kOsha, kRead},
    RemovalReason{"distorted fittings", kOsha, Standing::kMemory},
    RemovalReason{"tag missing or not to be read", kAsme, kSecond},
    RemovalReason{"abrasive wear", kAsme, kSecond},
    RemovalReason{"knots", kAsme, kSecond},
    RemovalReason{"discoloured, brittle or stiff areas", kAsme, kSecond},
    RemovalReason{"pitted, corroded, cracked or bent fittings", kAsme, kSecond}};

}  // namespace

Result<Interval> leg_tension_factor(Interval from_level_deg) {
  if (auto ok = check_input("from_level_deg", from_level_deg, {kLeastFromLevelDeg, 90}); !ok)
    return std::unexpected(ok.error());
  return exactly(1) / sin_over(from_level_deg);
}

Result<Interval> leg_tension_factor_by_size(Interval length, Interval height) {
  if (auto ok = check_input("length", length, {1e-6, 1e6}); !ok) return std::unexpected(ok.error());
  if (auto ok = check_input("height", height, {1e-6, 1e6}); !ok) return std::unexpected(ok.error());
  const Interval factor = length / height;
  if (auto ok = check_input("length over height", factor, {1, 2}); !ok)
    return std::unexpected(ok.error());
  return factor;
}

Result<Interval> bridle_leg_share(Interval included_deg) {
  if (auto ok = check_input("included_deg", included_deg, {0, 180}); !ok)
    return std::unexpected(ok.error());
  return over_corners(
      [](double included) {
        const double each = 2 * cos_deg(included / 2);
        return each > 0 ? 1 / each : kNoBound;
      },
      included_deg);
}

std::optional<double> two_leg_factor(double included_deg) {
  if (!(included_deg >= 0 && included_deg <= 120)) return std::nullopt;
  return included_deg <= 90 ? 1.4 : 1;
}

std::span<const RemovalReason> sling_removal_reasons() { return kReasons; }

}  // namespace fairlead::physics
