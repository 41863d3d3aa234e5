// The figures of a plan as numbers with ranges, from register texts and the request.
//
// Threads: values. Units: in the names; SI and degrees.
#pragma once

#include "daemon/physics/axles.h"
#include "daemon/physics/securement_friction.h"
#include "daemon/physics/securement_wheel.h"
#include "daemon/plan/plan.h"

namespace fairlead::plan {

struct Numbers {
  // The car.
  Interval mass_kg{0, physics::kNoBound};
  Interval front_share{0.4, 0.6};
  std::optional<double> car_m, least_deck_m, wheelbase_m, front_m, rear_m, clearance_m, height_m;
  std::optional<double> roll_limit_m;
  double wheel_radius_m = 0;
  // The truck.
  std::optional<double> deck_m, travel_m, truck_wheelbase_m, deck_ahead_m, deck_height_m;
  std::optional<double> front_kg, rear_kg;
  physics::AxleRatings ratings;
  // The place.
  Interval ground_deg;
  std::optional<Interval> deck_deg, ramp_deg, gap_m, legs_deg;
  Interval behind_m;
  // What holds it.
  bool tail_first = false;
  physics::Jurisdiction rules = physics::Jurisdiction::kUnitedStates;
  physics::VehicleCount count = physics::VehicleCount::kFour;
  std::optional<physics::StrapWay> strap_way;
  Interval friction{0, physics::kFrictionRubber};
  bool friction_said = false;
};

/// Rules and numbers of tiedowns that the base goes by, where the request names none.
struct BaseRules {
  physics::Jurisdiction rules = physics::Jurisdiction::kUnitedStates;
  physics::VehicleCount count = physics::VehicleCount::kFour;
  std::string from;  // "--rules", "the base's register", "nobody; the default".
};
[[nodiscard]] BaseRules rules_for(const judge::RegisterBook& book, const Request& request);

/// In SI units and degrees; nullopt for an empty text or one that the register already refused.
[[nodiscard]] std::optional<double> figure(const std::string& text, Dimension dimension);

/// Guesses made on the way are added to `notes`.
[[nodiscard]] Numbers numbers_of(const judge::VehicleItem& vehicle, const judge::TruckItem& truck,
                                 const Request& request, const BaseRules& rules,
                                 std::vector<std::string>& notes);
/// The same with every range shrunk to its middle; one without bounds stays as it is.
[[nodiscard]] Numbers middle_of(Numbers numbers);

/// Centre of mass ahead of the truck's rear axle; nullopt where a file leaves a length out.
[[nodiscard]] std::optional<Interval> centre_ahead_m(const Numbers& numbers);

}  // namespace fairlead::plan
