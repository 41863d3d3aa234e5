#include <fmt/format.h>

#include <cmath>

#include "daemon/physics/bridge_formula.h"
#include "daemon/physics/deck.h"
#include "daemon/plan/checks.h"

namespace fairlead::plan {
namespace {

using physics::at_least;
using physics::at_most;
using physics::exactly;
using physics::from;
using physics::Standing;

constexpr double kSteerShare = 0.5;
constexpr double kFootM = 0.3048, kPoundKg = 0.45359237;

NamedCheck deck_length(const Numbers& n) {
  if (!n.deck_m || !n.least_deck_m)
    return missing("deck_length", "deck length", "m", "give deck_length and deck_min or length");
  return {"deck_length",
          from(at_least("deck length", "m", exactly(*n.deck_m), exactly(*n.least_deck_m)),
               "vehicle file's least deck", Standing::kMaker)};
}

// How far the car stands out behind the deck, where it does; shown, as the least deck decides.
void add_overhang(const Numbers& n, Checks& out) {
  if (!n.deck_m || !n.car_m) return;
  const auto behind = [&](double gap_m) {
    const auto fit = physics::deck_fit(*n.deck_m, *n.car_m, *n.car_m, gap_m);
    return fit ? fit->overhang_m : physics::kNoBound;
  };
  const Interval overhang = physics::over_corners(behind, n.behind_m);
  if (overhang.hi == 0) return;
  NamedCheck check{"overhang",
                   from(at_most("car stands out behind the deck", "m", overhang, exactly(0)),
                        "geometry of the files' figures", Standing::kPractice)};
  check.check.decides = false;
  out.push_back(check);
}

void add_axles(const Numbers& n, const physics::AxleMargins& margins, Checks& out) {
  const auto rated = [&](const char* id, const char* what, const std::optional<double>& rating,
                         const std::optional<Interval>& margin, const char* origin,
                         bool always = true) {
    if (rating && margin) {
      physics::Check check = at_most(what, "kg", exactly(*rating) - *margin, exactly(*rating));
      check.margin = *margin;
      check.verdict = physics::verdict_of(*margin);
      out.push_back({id, from(check, origin, Standing::kMaker)});
    } else if (always) {
      out.push_back(missing(id, what, "kg", "the truck file gives no rating"));
    }
  };
  rated("payload", "payload", n.ratings.payload_kg, margins.payload_kg, "truck file", false);
  rated("gvwr", "gross weight", n.ratings.gvwr_kg, margins.gvwr_kg, "rating of the truck's maker");
  rated("front_axle", "front axle", n.ratings.front_kg, margins.front_kg, "axle rating");
  rated("rear_axle", "rear axle", n.ratings.rear_kg, margins.rear_kg, "axle rating");
  out.push_back({"steer", from(at_least("steer axle keeps", "%", margins.steer_share * 100.0,
                                        exactly(kSteerShare * 100)),
                               "convention of unknown origin, of the scaled unladen weight",
                               Standing::kPractice)});
}

// Worst group of the two-axle truck, in kg; the limits are whole pounds.
std::optional<NamedCheck> bridge(const Numbers& n, const Interval& front_kg,
                                 const Interval& rear_kg) {
  const std::array<physics::AxleWeight, 2> heaviest{
      {{0, front_kg.hi / kPoundKg}, {*n.truck_wheelbase_m / kFootM, rear_kg.hi / kPoundKg}}};
  const auto groups = physics::bridge_groups(heaviest);
  if (!groups) return std::nullopt;  // A mass without bounds: the axle checks say so.
  const physics::BridgeGroup& worst = groups->front();
  const Interval load = worst.first != worst.last ? front_kg + rear_kg
                        : worst.first == 0        ? front_kg
                                                  : rear_kg;
  NamedCheck out{"bridge",
                 from(at_most("axle group by law", "kg", load, exactly(worst.limit_lb * kPoundKg)),
                      "23 USC 127(a), interstate roads; States add limits", Standing::kPublished)};
  out.check.words = fmt::format("limit {} lb", worst.limit_lb);
  return out;
}

Status add_weights(const Numbers& n, Checks& out) {
  const auto ahead = centre_ahead_m(n);
  if (!ahead || !n.front_kg || !n.rear_kg || !n.truck_wheelbase_m) {
    out.push_back(missing("front_axle", "axle loads", "kg",
                          "the files want deck_ahead, wheelbase, front_scaled, rear_scaled of the "
                          "truck, wheelbase and overhangs of the car"));
    if (n.ratings.payload_kg)
      out.push_back(
          {"payload", from(at_most("payload", "kg", n.mass_kg, exactly(*n.ratings.payload_kg)),
                           "truck file", Standing::kMaker)});
    return {};
  }
  const physics::AxlePair unladen{*n.front_kg, *n.rear_kg};
  const auto margins =
      physics::axle_margins(unladen, *n.truck_wheelbase_m, n.ratings, n.mass_kg, *ahead);
  if (!margins) return std::unexpected(margins.error());
  add_axles(n, *margins, out);
  if (n.rules == physics::Jurisdiction::kUnitedStates && std::isfinite(n.mass_kg.hi)) {
    const Interval front = margins->steer_share * unladen.front_kg;
    const Interval rear = exactly(unladen.total_kg()) + n.mass_kg - front;
    if (auto check = bridge(n, front, rear)) out.push_back(*check);
  }
  return {};
}

// One check a kink and kind; the least over the kinks of the way.
Status add_edges(const Numbers& n, Checks& out) {
  if (!n.clearance_m || !n.wheelbase_m || !n.front_m || !n.rear_m || !n.deck_deg) {
    out.push_back(missing("approach", "ends of the car clear the deck's edge", "m",
                          "the files want clearance, wheelbase and overhangs of the car and "
                          "deck_tilt of the truck"));
    return {};
  }
  const physics::Underside car{.wheelbase_m = *n.wheelbase_m,
                               .front_overhang_m = *n.front_m,
                               .rear_overhang_m = *n.rear_m,
                               .clearance_m = exactly(*n.clearance_m),
                               .wheel_radius_m = n.wheel_radius_m};
  const auto rooms = physics::way_room(
      car, {.ground_deg = n.ground_deg, .ramp_deg = n.ramp_deg, .deck_deg = *n.deck_deg});
  if (!rooms) return std::unexpected(rooms.error());
  std::optional<Interval> front, rear, belly;
  const auto take = [](std::optional<Interval>& into, const std::optional<Interval>& room) {
    if (room) into = into ? least(*into, *room) : *room;
  };
  for (const physics::KinkRoom& room : *rooms) {
    take(front, room.approach_m);
    take(rear, room.departure_m);
    take(belly, room.break_over_m);
  }
  const auto add = [&](const char* id, const char* what, const std::optional<Interval>& room) {
    if (!room) return;
    out.push_back({id, from(at_least(what, "m", *room, exactly(0)),
                            "geometry of the files' figures; springs and tyres left out",
                            Standing::kPractice)});
  };
  add("approach", "front of the car clears the edge", front);
  add("departure", "rear of the car clears the edge", rear);
  add("break_over", "belly clears the edge", belly);
  return {};
}

}  // namespace

NamedCheck missing(std::string id, std::string what, std::string unit, std::string words) {
  physics::Check check;
  check.what = std::move(what), check.unit = std::move(unit), check.words = std::move(words);
  check.have = check.margin = {-physics::kNoBound, physics::kNoBound};
  check.need = check.have;
  return {std::move(id), check};
}

Result<Checks> deck_checks(const Numbers& n) {
  Checks out{deck_length(n)};
  add_overhang(n, out);
  if (auto fine = add_weights(n, out); !fine) return std::unexpected(fine.error());
  if (auto fine = add_edges(n, out); !fine) return std::unexpected(fine.error());
  return out;
}

Checks way_checks(const Numbers& n, Mode mode) {
  if (mode == Mode::kWinchOut) return {};
  const bool onto_deck = mode == Mode::kLoad || mode == Mode::kUnload;
  const std::string what =
      onto_deck ? "way on its own wheels, gap + deck travel" : "way on its own wheels";
  if (!n.gap_m || (onto_deck && !n.travel_m))
    return {missing("distance", what, "m",
                    n.gap_m ? "the truck file gives no deck_travel"
                            : "say how far the car stands from the deck with --gap")};
  constexpr double kUsualLimitM = 10;  // Facts of the trade: common practice, no source.
  const Interval way = onto_deck ? *n.gap_m + exactly(*n.travel_m) : *n.gap_m;
  return {{"distance", from(at_most(what, "m", way, exactly(n.roll_limit_m.value_or(kUsualLimitM))),
                            n.roll_limit_m ? "maker's recovery guide, by the vehicle file"
                                           : "common practice, no source",
                            n.roll_limit_m ? Standing::kMaker : Standing::kPractice)}};
}

}  // namespace fairlead::plan
