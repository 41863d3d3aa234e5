// The question before the job: can this truck and this gear take this car from this place, and by
// how much. A plain function on the register, the procedures and what is known of the site.
//
// Every input may be a range; every check then has a range for its margin, and its verdict is met,
// deviated or unproven as in the judge. What no file and no option says is unproven. The plan is
// arithmetic on files: the makers' guides, local rules and licensed practice go first, and somebody
// looks at the car.
//
// Threads: pure functions; no clock, no files. Units: metres, kilograms, newtons, degrees as named.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/judge/register_book.h"
#include "daemon/judge/rulebook.h"
#include "daemon/physics/check.h"
#include "daemon/physics/securement.h"

namespace fairlead::plan {

using physics::Interval;
using physics::Verdict;

enum class Mode { kLoad, kUnload, kWinchOut, kReposition };
/// Does the car roll: as found, or not looked at yet.
enum class Rolls { kYes, kNo, kUnknown };

struct Request {
  std::string vehicle, truck;  // Ids of the register.
  Mode mode = Mode::kLoad;
  std::string surface = "hard road";  // Under the car; a row of the resistance tables.
  Interval ground_deg;                // Uphill towards the truck is positive.
  std::optional<Interval> gap_m;      // From the car to the deck's tail.
  std::optional<Interval> deck_deg;   // Else the truck file's.
  std::optional<Interval> ramp_deg;
  std::optional<Interval> legs_deg;            // Angle between two legs.
  std::optional<Interval> mass_kg;             // Weighed; else the vehicle file's, +- 1.645 s.d.
  std::optional<Interval> behind_headboard_m;  // Where it will stand.
  bool tail_first = false;                     // Drawn up by its rear.
  Rolls rolls = Rolls::kYes;
  std::vector<std::string> points;  // Else the first kind of eye the vehicle file lists.
  std::vector<std::string> gear;    // Else all that the truck carries.
  physics::Path path = physics::Path::kSameSide;
  // Where the straps pull, to the deck and in plan from the line of travel outward; else from the
  // truck file's anchors and the car's wheels, for straps over a wheel.
  std::optional<Interval> strap_deck_deg, strap_aside_deg;
  std::optional<Interval> friction;  // Of tyres on the deck.
  std::optional<physics::Jurisdiction>
      jurisdiction;   // Else what the base goes by, by its register.
  int64_t at_us = 0;  // For dates of gear.
};

struct PlanCheck {
  std::string id;  // "front_axle"
  physics::Check check;
  std::optional<double> best;  // Margin of the best figures.
};

struct StrapUse {
  std::string gear, wheel;
  double wll_kg = 0;  // Weakest of strap and anchor.
  double credit_kg = 0;
  double share = 0;  // Of the sum of all credits.
};

/// The line to the car: what is drawn, what may be drawn, how many parts suffice.
struct LinePlan {
  Interval rolling_n, locked_n;         // Pull of the free-rolling car and of locked wheels.
  int parts = 1;                        // Least number of line parts for the pull that is planned.
  bool parts_suffice = false;           // False: no number of parts within reach does.
  int first_layer = 0, last_layer = 0;  // Of the drum, while pulling; 0: the file gives none.
  std::vector<std::string> points, gear;
};

struct PlanStep {
  std::string procedure, say;
  std::vector<std::string> cautions;  // Each said once, where it is first needed.
};

/// What a drawing to scale needs; lengths in metres, a missing one is 0 and drawn as a guess.
struct Outline {
  double truck_wheelbase = 0, deck = 0, deck_ahead = 0, deck_height = 0;
  double car = 0, car_wheelbase = 0, car_front = 0, car_height = 0, car_clearance = 0, wheel = 0;
  double behind_headboard = 0;
  bool tail_first = false;
  std::optional<double> front_kg{}, rear_kg{}, mass_kg{}, centre_ahead{};
};

struct Plan {
  std::string vehicle, truck, vehicle_title, truck_title;
  std::string rules, rules_title, rules_from;  // "us-49cfr", the rules' own name, who says so.
  Verdict fits = Verdict::kUnproven;
  std::vector<PlanCheck> checks;
  std::vector<StrapUse> straps;
  LinePlan line;
  std::vector<std::string> changes;  // What would make it fit, smallest first; empty when it fits.
  std::vector<PlanStep> steps;
  std::vector<std::string> notes;  // Guesses made, gear that does not count and why.
  Outline outline;
};

/// Errors: kNotFound for an id that the register lacks, with the nearest; kBadInput for a figure
/// that makes no sense, naming it.
[[nodiscard]] Result<Plan> make_plan(const judge::RegisterBook& book,
                                     std::span<const judge::Procedure> procedures,
                                     const Request& request);

/// Shipped procedures of a mode, by id.
[[nodiscard]] std::vector<std::string> procedures_of(Mode mode);

/// "11 deg", "11 deg +- 2 deg", "9 deg to 13 deg": a figure and how well it is known, in SI units
/// (m, kg, N, degrees).
[[nodiscard]] Result<Interval> read_range(const std::string& text, Dimension dimension);

}  // namespace fairlead::plan
