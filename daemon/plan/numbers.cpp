#include "daemon/plan/numbers.h"

#include <fmt/format.h>

#include "daemon/base/units.h"

namespace fairlead::plan {
namespace {

constexpr double kRange = 1.645;  // One-sided 95 % of a normal distribution, as everywhere here.
constexpr double kUsualGapM = 0.25;

// Stored units of base/units.h in one SI unit or degree.
double stored_per_unit(Dimension dimension) {
  switch (dimension) {
    case Dimension::kShare:
      return 1e6;
    case Dimension::kForce:
    case Dimension::kCount:
      return 1;
    default:
      return 1e3;  // mm, mm/s, g, mdeg.
  }
}

Interval middle(const Interval& x) {
  const double m = (x.lo + x.hi) / 2;
  return std::isfinite(m) ? physics::exactly(m) : x;
}

}  // namespace

std::optional<double> figure(const std::string& text, Dimension dimension) {
  if (text.empty()) return std::nullopt;
  const auto read = parse_quantity(text, dimension);
  if (!read) return std::nullopt;
  return static_cast<double>(read->stored.num) / static_cast<double>(read->stored.den) /
         stored_per_unit(dimension);
}

Result<Interval> read_range(const std::string& text, Dimension dimension) {
  const auto part = [&](const std::string& words) -> Result<double> {
    const auto read = parse_quantity(words, dimension);
    if (!read) return std::unexpected(read.error());
    return *figure(words, dimension);
  };
  const auto trimmed = [](std::string words) {
    words.erase(0, words.find_first_not_of(' '));
    words.erase(words.find_last_not_of(' ') + 1);
    return words;
  };
  for (const std::string_view between : {"+-", " to "}) {
    const size_t at = text.find(between);
    if (at == std::string::npos) continue;
    const auto first = part(trimmed(text.substr(0, at)));
    const auto second = part(trimmed(text.substr(at + between.size())));
    if (!first) return std::unexpected(first.error());
    if (!second) return std::unexpected(second.error());
    const Interval range =
        between == "+-" ? physics::plus_minus(*first, *second) : Interval{*first, *second};
    if (physics::sound(range)) return range;
    return fail(Code::kBadInput, fmt::format("'{}' runs backward; give the smaller end first, and "
                                             "an uncertainty that is not negative",
                                             text));
  }
  const auto value = part(trimmed(text));
  if (!value) return std::unexpected(value.error());
  return physics::exactly(*value);
}

namespace {

void read_car(const v1::Vehicle& car, Numbers& n, std::vector<std::string>& notes) {
  const auto metres = [](const std::string& text) { return figure(text, Dimension::kLength); };
  n.car_m = metres(car.length());
  n.wheelbase_m = metres(car.wheelbase());
  n.front_m = metres(car.front_overhang());
  n.rear_m = metres(car.rear_overhang());
  n.clearance_m = metres(car.clearance());
  n.height_m = metres(car.height());
  n.wheel_radius_m = metres(car.wheel_diameter()).value_or(0) / 2;
  n.roll_limit_m = metres(car.rolling_distance());
  n.least_deck_m = metres(car.deck_min());
  if (!n.least_deck_m && n.car_m) {
    n.least_deck_m = n.car_m;
    notes.push_back("the vehicle file gives no least deck: the car's own length is taken");
  }
  if (const auto share = figure(car.front_share(), Dimension::kShare)) {
    n.front_share = physics::exactly(*share);
  } else {
    notes.push_back(
        "the vehicle file gives no front_share: 40 to 60 % of the mass on its front axle is taken "
        "(common practice, no source)");
  }
}

void read_truck(const v1::Truck& truck, Numbers& n) {
  const auto metres = [](const std::string& text) { return figure(text, Dimension::kLength); };
  const auto kilograms = [](const std::string& text) { return figure(text, Dimension::kMass); };
  n.deck_m = metres(truck.deck_length());
  n.travel_m = metres(truck.deck_travel());
  n.truck_wheelbase_m = metres(truck.wheelbase());
  n.deck_ahead_m = metres(truck.deck_ahead());
  n.deck_height_m = metres(truck.deck_height());
  n.front_kg = kilograms(truck.front_scaled());
  n.rear_kg = kilograms(truck.rear_scaled());
  n.ratings = {.front_kg = kilograms(truck.front_axle_rating()),
               .rear_kg = kilograms(truck.rear_axle_rating()),
               .gvwr_kg = kilograms(truck.gvwr()),
               .payload_kg = kilograms(truck.payload())};
  if (const auto tilt = figure(truck.deck_tilt(), Dimension::kAngle))
    n.deck_deg = physics::exactly(*tilt);
}

// "0.8 m" and its standard deviation.
std::optional<Interval> with_sd(const std::string& text, const std::string& sd) {
  const auto value = figure(text, Dimension::kLength);
  if (!value) return std::nullopt;
  const double u = kRange * figure(sd, Dimension::kLength).value_or(0);
  return physics::greatest(physics::exactly(0), physics::plus_minus(*value, u));
}

// Where the straps pull: as said, else over the wheel to the truck file's anchors.
void read_straps(const v1::Truck& truck, const Request& request, Numbers& n,
                 std::vector<std::string>& notes) {
  if (request.friction) n.friction = *request.friction;
  n.friction_said = request.friction.has_value();
  const bool over_the_top = request.path == physics::Path::kAcross;
  if (request.strap_deck_deg && (request.strap_aside_deg || over_the_top)) {
    n.strap_way = {*request.strap_deck_deg, request.strap_aside_deg.value_or(physics::exactly(90))};
  } else if (request.path == physics::Path::kSameSide && n.wheel_radius_m > 0) {
    const auto reach = with_sd(truck.strap_reach(), truck.strap_reach_sd());
    const auto aside = with_sd(truck.strap_aside(), truck.strap_aside_sd());
    if (!reach || !aside) return;
    const auto way = physics::strap_over_wheel(physics::exactly(n.wheel_radius_m), *reach, *aside);
    if (!way) {
      notes.push_back("where the straps pull is not known: " + way.error().message);
      return;
    }
    n.strap_way = *way;
    notes.push_back(fmt::format(
        "straps are taken over the wheels to the truck file's anchors: {:.0f} to {:.0f} deg to the "
        "deck, {:.0f} to {:.0f} deg outward (else say --strap-deck and --strap-aside)",
        way->to_deck_deg.lo, way->to_deck_deg.hi, way->aside_deg.lo, way->aside_deg.hi));
  }
  if (n.strap_way && !n.friction_said)
    notes.push_back(fmt::format(
        "nobody said how the tyres grip the deck: friction 0 to {:.1f} is taken, the upper end for "
        "clean dry rubber, from memory (else say --friction)",
        n.friction.hi));
}

}  // namespace

BaseRules rules_for(const judge::RegisterBook& book, const Request& request) {
  BaseRules out;
  const judge::BaseItem* base = book.base();
  if (base != nullptr) out = {base->rules, base->tiedowns, "the base's register"};
  if (base == nullptr) out.from = "nobody chose; the default";
  if (request.jurisdiction) out.rules = *request.jurisdiction, out.from = "asked for";
  return out;
}

Numbers numbers_of(const judge::VehicleItem& vehicle, const judge::TruckItem& truck,
                   const Request& request, const BaseRules& rules,
                   std::vector<std::string>& notes) {
  Numbers n;
  n.rules = rules.rules, n.count = rules.count, n.tail_first = request.tail_first;
  // Where the car would stand, and how its mass lies, matter only on the deck.
  std::vector<std::string> elsewhere;
  std::vector<std::string>& of_the_deck = request.mode == Mode::kLoad ? notes : elsewhere;
  read_car(vehicle.text, n, of_the_deck);
  read_truck(truck.text, n);
  if (request.tail_first) {
    std::swap(n.front_m, n.rear_m);
    n.front_share = physics::exactly(1) - n.front_share;
  }
  if (request.mass_kg) {
    n.mass_kg = *request.mass_kg;
  } else if (const auto mass = figure(vehicle.text.mass(), Dimension::kMass)) {
    const double sd = figure(vehicle.text.mass_sd(), Dimension::kMass).value_or(0);
    n.mass_kg = physics::greatest(physics::exactly(0), physics::plus_minus(*mass, kRange * sd));
  } else {
    notes.push_back(
        "no mass is known of this car: what depends on it stays unproven; weigh it, or "
        "read its plate");
  }
  n.ground_deg = request.ground_deg;
  if (request.deck_deg) n.deck_deg = request.deck_deg;
  n.ramp_deg = request.ramp_deg;
  n.gap_m = request.gap_m;
  n.legs_deg = request.legs_deg;
  if (request.behind_headboard_m) {
    n.behind_m = *request.behind_headboard_m;
  } else {
    // Half of what the maker asks for beyond the car's length stays free in front.
    const bool known = n.least_deck_m && n.car_m && *n.least_deck_m > *n.car_m;
    n.behind_m = physics::exactly(known ? (*n.least_deck_m - *n.car_m) / 2 : kUsualGapM);
    of_the_deck.push_back(fmt::format(
        "the car is taken to stand {:.2f} m behind the headboard, {} first (else say --behind, "
        "--tail-first)",
        n.behind_m.lo, request.tail_first ? "tail" : "nose"));
  }
  read_straps(truck.text, request, n, of_the_deck);
  return n;
}

Numbers middle_of(Numbers n) {
  for (Interval* x : {&n.mass_kg, &n.front_share, &n.ground_deg, &n.behind_m}) *x = middle(*x);
  for (std::optional<Interval>* x : {&n.deck_deg, &n.ramp_deg, &n.gap_m, &n.legs_deg})
    if (*x) **x = middle(**x);
  if (n.strap_way) {
    n.strap_way->to_deck_deg = middle(n.strap_way->to_deck_deg);
    n.strap_way->aside_deg = middle(n.strap_way->aside_deg);
  }
  // Grip that nobody vouched for is no best figure.
  n.friction = n.friction_said ? middle(n.friction) : physics::exactly(n.friction.lo);
  return n;
}

std::optional<Interval> centre_ahead_m(const Numbers& n) {
  if (!n.deck_ahead_m || !n.front_m || !n.wheelbase_m) return std::nullopt;
  // From its bumper back to its front axle, and on by the rear axle's share of the wheelbase.
  const Interval back =
      physics::exactly(*n.front_m) + (physics::exactly(1) - n.front_share) * *n.wheelbase_m;
  return physics::exactly(*n.deck_ahead_m) - n.behind_m - back;
}

}  // namespace fairlead::plan
