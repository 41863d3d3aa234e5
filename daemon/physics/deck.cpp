#include "daemon/physics/deck.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <tuple>

namespace fairlead::physics {
namespace {

constexpr double kRadian = std::numbers::pi / 180;
constexpr double kSteepestKinkDeg = 45;

// How far past the foot of the slope the end of the car is, while the wheel just touches both
// slopes: the wheel's contact lies radius x tan(half the kink) before the foot. With the wheel
// inside the overhang, as on every car, the room falls with the kink up to 45 degrees.
double past_foot_m(double overhang_m, double radius_m, double kink_deg) {
  const double radius = std::min(radius_m, overhang_m);
  return std::max(0.0, overhang_m - radius * std::tan(kink_deg * kRadian / 2));
}

// Square to the slope the end hangs over.
double end_room(double clearance_m, double overhang_m, double radius_m, double kink_deg) {
  return clearance_m * std::cos(kink_deg * kRadian) -
         past_foot_m(overhang_m, radius_m, kink_deg) * std::sin(kink_deg * kRadian);
}

// Crest above the line between the contacts, highest when it stands in the middle: half the
// wheelbase times the tangent of half the kink.
double crest_room(double clearance_m, double wheelbase_m, double kink_deg) {
  return clearance_m - wheelbase_m / 2 * std::tan(kink_deg * kRadian / 2);
}

double degrees(double radians) { return radians / kRadian; }

// The kink at which an end just touches, found by halving.
double touching_deg(double clearance_m, double overhang_m, double radius_m) {
  double lo = 0, hi = kSteepestKinkDeg;
  if (end_room(clearance_m, overhang_m, radius_m, hi) > 0) return hi;
  for (int i = 0; i < 60; ++i) {
    const double middle = (lo + hi) / 2;
    (end_room(clearance_m, overhang_m, radius_m, middle) >= 0 ? lo : hi) = middle;
  }
  return lo;
}

Status check_car(const Underside& car) {
  for (const auto& [name, value, allowed] :
       {std::tuple{"wheelbase, m", exactly(car.wheelbase_m), Interval{0.1, 30}},
        std::tuple{"front overhang, m", exactly(car.front_overhang_m), Interval{0, 10}},
        std::tuple{"rear overhang, m", exactly(car.rear_overhang_m), Interval{0, 10}},
        std::tuple{"clearance, m", car.clearance_m, Interval{0, 5}},
        std::tuple{"wheel radius, m", exactly(car.wheel_radius_m), Interval{0, 3}}}) {
    if (auto fine = check_input(name, value, allowed); !fine) return fine;
  }
  return {};
}

}  // namespace

Interval KinkRoom::least_m() const {
  Interval room = exactly(kNoBound);
  for (const auto& part : {approach_m, departure_m, break_over_m})
    if (part) room = least(room, *part);
  return room;
}

Result<UndersideAngles> underside_angles(const Underside& car) {
  if (auto fine = check_car(car); !fine) return std::unexpected(fine.error());
  const auto end = [&](double overhang_m) {
    return over_corners([&](double c) { return touching_deg(c, overhang_m, car.wheel_radius_m); },
                        car.clearance_m);
  };
  return UndersideAngles{
      end(car.front_overhang_m), end(car.rear_overhang_m),
      over_corners([&](double c) { return degrees(2 * std::atan(2 * c / car.wheelbase_m)); },
                   car.clearance_m)};
}

Result<KinkRoom> kink_room(const Underside& car, const Interval& kink_deg) {
  if (auto fine = check_car(car); !fine) return std::unexpected(fine.error());
  if (auto fine = check_input("kink, deg", kink_deg, {-kSteepestKinkDeg, kSteepestKinkDeg}); !fine)
    return std::unexpected(fine.error());
  KinkRoom room;
  if (kink_deg.hi >= 0) {
    const Interval up{std::max(0.0, kink_deg.lo), std::max(0.0, kink_deg.hi)};
    const auto end = [&](double overhang_m) {
      return over_corners(
          [&](double c, double kink) { return end_room(c, overhang_m, car.wheel_radius_m, kink); },
          car.clearance_m, up);
    };
    room.approach_m = end(car.front_overhang_m);
    room.departure_m = end(car.rear_overhang_m);
  }
  if (kink_deg.lo < 0) {
    const Interval down{std::max(0.0, -kink_deg.hi), -kink_deg.lo};
    room.break_over_m =
        over_corners([&](double c, double kink) { return crest_room(c, car.wheelbase_m, kink); },
                     car.clearance_m, down);
  }
  return room;
}

Result<std::vector<KinkRoom>> way_room(const Underside& car, const Way& way) {
  std::vector<Interval> slopes{way.ground_deg};
  if (way.ramp_deg) slopes.push_back(*way.ramp_deg);
  slopes.push_back(way.deck_deg);
  std::vector<KinkRoom> rooms;
  for (size_t i = 1; i < slopes.size(); ++i) {
    const auto room = kink_room(car, slopes[i] - slopes[i - 1]);
    if (!room) return std::unexpected(room.error());
    rooms.push_back(*room);
  }
  return rooms;
}

Result<Interval> steepest_way_deg(const Underside& car, double spare_m) {
  if (auto fine = check_input("spare room, m", exactly(spare_m), {0, 5}); !fine)
    return std::unexpected(fine.error());
  if (auto fine = check_car(car); !fine) return std::unexpected(fine.error());
  Underside raised = car;
  raised.clearance_m = greatest(exactly(0), car.clearance_m - exactly(spare_m));
  const auto angles = underside_angles(raised);
  if (!angles) return std::unexpected(angles.error());
  return least(angles->approach_deg, angles->departure_deg);
}

Result<DeckFit> deck_fit(double deck_m, double needs_m, double car_m, double gap_m) {
  for (const auto& [name, value] :
       {std::pair{"deck, m", deck_m}, std::pair{"least deck, m", needs_m},
        std::pair{"car, m", car_m}, std::pair{"gap behind the headboard, m", gap_m}}) {
    if (auto fine = check_input(name, exactly(value), {0, 100}); !fine)
      return std::unexpected(fine.error());
  }
  return DeckFit{deck_m - needs_m, std::max(0.0, gap_m + car_m - deck_m)};
}

}  // namespace fairlead::physics
