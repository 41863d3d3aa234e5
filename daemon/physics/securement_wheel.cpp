#include "daemon/physics/securement_wheel.h"

#include <numbers>

namespace fairlead::physics {
namespace {

double degrees(double radians) { return radians * 180 / std::numbers::pi; }

// Where the strap meets the tread: above the deck, and along it from the anchor. Both grow with the
// reach; over the radius the first grows and the second falls.
double rise(double r, double reach) { return 2 * r * reach * reach / (reach * reach + r * r); }
double run(double r, double reach) {
  return reach * (reach * reach - r * r) / (reach * reach + r * r);
}

}  // namespace

Result<StrapWay> strap_over_wheel(Interval radius_m, Interval reach_m, Interval aside_m) {
  if (auto ok = check_input("wheel's radius, m", radius_m, {0.05, 3}); !ok)
    return std::unexpected(ok.error());
  if (auto ok = check_input("strap's reach, m", reach_m, {radius_m.hi, 20}); !ok)
    return std::unexpected(ok.error());
  if (auto ok = check_input("strap's way aside, m", aside_m, {0, 5}); !ok)
    return std::unexpected(ok.error());
  const Interval up = over_corners(rise, radius_m, reach_m);
  const Interval along = over_corners(run, radius_m, reach_m);
  // Rise, run and way aside taken as free of each other: never too narrow.
  return StrapWay{
      {degrees(std::atan2(up.lo, std::hypot(along.hi, aside_m.hi))),
       degrees(std::atan2(up.hi, std::hypot(along.lo, aside_m.lo)))},
      {degrees(std::atan2(aside_m.lo, along.hi)), degrees(std::atan2(aside_m.hi, along.lo))}};
}

Result<std::vector<Leg>> wheel_strap_legs(const StrapWay& way, Side side) {
  constexpr Interval kQuarter{0, 90};
  if (auto ok = check_input("angle to the deck, deg", way.to_deck_deg, kQuarter); !ok)
    return std::unexpected(ok.error());
  if (auto ok = check_input("angle aside, deg", way.aside_deg, kQuarter); !ok)
    return std::unexpected(ok.error());
  const Interval ahead = way.aside_deg, behind = exactly(180) - way.aside_deg;
  const bool left = side == Side::kLeft;
  return std::vector<Leg>{{way.to_deck_deg, left ? ahead : -ahead},
                          {way.to_deck_deg, left ? behind : -behind}};
}

}  // namespace fairlead::physics
