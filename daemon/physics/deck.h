// Does the car go onto the deck: length, overhang, and what touches where slopes meet.
//
// A car that crosses a kink between two slopes touches with its ends where the way turns up
// (approach in front, departure behind) and with its belly where it turns down (break-over).
// Geometry of straight lines; the definitions of the three angles are those of SAE J689 and J1100,
// from memory. What is left out: how springs give, tyres flatten, and bumpers hang lower than a
// file says. Watch the lip; the makers' guides go first.
//
// Threads: pure functions. Units: metres and degrees, as named. Errors: kBadInput, naming the
// input.
#pragma once

#include <optional>
#include <vector>

#include "daemon/physics/interval.h"

namespace fairlead::physics {

/// The underside as files give it: one clearance under everything.
struct Underside {
  double wheelbase_m = 0, front_overhang_m = 0, rear_overhang_m = 0;
  Interval clearance_m;
  double wheel_radius_m = 0;  // 0: unknown, which errs towards touching.
};

/// Largest kinks the car crosses just touching, degrees; 45 stands for 45 or more.
struct UndersideAngles {
  Interval approach_deg, departure_deg, break_over_deg;
};
[[nodiscard]] Result<UndersideAngles> underside_angles(const Underside& car);

/// Room left between car and way at one kink, square to the way (at a crest: to the car); negative:
/// it touches.
struct KinkRoom {
  std::optional<Interval> approach_m, departure_m;  // Where the way turns up.
  std::optional<Interval> break_over_m;             // Where it turns down.
  [[nodiscard]] Interval least_m() const;
};
/// `kink_deg`: the next slope less this one, positive where the way turns up; at most 45 either
/// way.
[[nodiscard]] Result<KinkRoom> kink_room(const Underside& car, const Interval& kink_deg);

/// The way onto the deck: ground, perhaps ramps, deck. Slopes positive uphill towards the truck.
struct Way {
  Interval ground_deg;
  std::optional<Interval> ramp_deg;
  Interval deck_deg;
};
/// Room at each kink, in the order they are crossed.
[[nodiscard]] Result<std::vector<KinkRoom>> way_room(const Underside& car, const Way& way);

/// Steepest first slope that leaves room `spare_m` in front and behind; the ramps that would do.
[[nodiscard]] Result<Interval> steepest_way_deg(const Underside& car, double spare_m);

struct DeckFit {
  double length_margin_m = 0;  // Deck less what the car asks for.
  double overhang_m = 0;       // How far the car stands out behind the deck; 0 if it does not.
};
/// `needs_m`: the maker's least deck, else the car's own length. `gap_m`: headboard to bumper.
[[nodiscard]] Result<DeckFit> deck_fit(double deck_m, double needs_m, double car_m, double gap_m);

}  // namespace fairlead::physics
