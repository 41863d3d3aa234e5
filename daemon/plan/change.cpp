#include "daemon/plan/change.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <tuple>

#include "daemon/physics/deck.h"
#include "daemon/plan/checks.h"

namespace fairlead::plan {
namespace {

using physics::exactly;

constexpr double kHair = 1e-9;  // Of floating error at a limit that is met exactly.

// What only another truck, or another place on the deck, can mend.
constexpr std::array<std::string_view, 7> kOfTheTruck{
    "deck_length", "payload", "gvwr", "front_axle", "rear_axle", "steer", "bridge"};
constexpr std::array<std::string_view, 3> kOfThePlace{"front_axle", "rear_axle", "steer"};

const PlanCheck* find(const Plan& plan, std::string_view id) {
  const auto found = std::ranges::find(plan.checks, id, &PlanCheck::id);
  return found == plan.checks.end() ? nullptr : &*found;
}

bool fails(const PlanCheck& check) {
  return check.check.decides && check.check.verdict != Verdict::kMet;
}
bool fails(const Plan& plan, std::string_view id) {
  const PlanCheck* check = find(plan, id);
  return check != nullptr && fails(*check);
}
template <size_t N>
size_t failing(const Plan& plan, const std::array<std::string_view, N>& ids) {
  return static_cast<size_t>(
      std::ranges::count_if(ids, [&](std::string_view id) { return fails(plan, id); }));
}

void try_gap(const Numbers& n, const Plan& plan, std::vector<std::string>& out) {
  const PlanCheck* way = find(plan, "distance");
  if (way == nullptr || !fails(*way)) return;
  const double most = way->check.need.lo - n.travel_m.value_or(0);
  if (!std::isfinite(most)) return;
  if (most > 0)
    out.push_back(fmt::format("back the truck up: at most {:.1f} m from the car to the deck's tail",
                              std::floor(most * 10 + kHair) / 10));
  else
    out.push_back("the deck's travel alone is more than the car may roll: skates or dollies");
}

void try_ramps(const Numbers& n, const Plan& plan, std::vector<std::string>& out) {
  if (!fails(plan, "approach") && !fails(plan, "departure") && !fails(plan, "break_over")) return;
  if (!n.deck_deg || !n.clearance_m || !n.wheelbase_m || !n.front_m || !n.rear_m) return;
  const physics::Underside car{.wheelbase_m = *n.wheelbase_m,
                               .front_overhang_m = *n.front_m,
                               .rear_overhang_m = *n.rear_m,
                               .clearance_m = exactly(*n.clearance_m),
                               .wheel_radius_m = n.wheel_radius_m};
  // Whole degrees, flattest first: the middle of those that clear is the easiest to build.
  std::vector<int> clear;
  for (int deg = 1; deg < 20; ++deg) {
    const auto rooms = physics::way_room(
        car, {.ground_deg = n.ground_deg, .ramp_deg = exactly(deg), .deck_deg = *n.deck_deg});
    if (rooms && std::ranges::all_of(
                     *rooms, [](const physics::KinkRoom& room) { return room.least_m().lo >= 0; }))
      clear.push_back(deg);
  }
  if (clear.empty()) {
    out.push_back("no single ramp clears the car's ends: longer boards, or a flatter deck");
  } else {
    out.push_back(fmt::format("ramps of {} to {} degrees under the wheels at the deck's tail",
                              clear.front(), clear.back()));
  }
}

void try_straps(const Numbers& n, const Request& request, const Plan& plan,
                std::vector<std::string>& out) {
  const bool failed = std::ranges::any_of(plan.checks, [](const PlanCheck& check) {
    return check.id.starts_with("strength") && fails(check);
  });
  if (!failed || !std::isfinite(n.mass_kg.hi)) return;
  if (physics::asks_for_directions(n.rules) && !n.strap_way) {
    out.push_back("say where the straps will pull: --strap-deck and --strap-aside");
    return;
  }
  const auto each = smallest_strap_set({}, n, request.path).least_each_kg;
  if (each)
    out.push_back(fmt::format("four tiedowns of {:.0f} kg or more each, anchors no weaker",
                              std::ceil(*each - kHair)));
  else
    out.push_back(
        "no four tiedowns in these directions suffice: lower straps, more of them, or "
        "tyres whose grip on the deck is known (--friction)");
}

void try_line(const Plan& plan, std::vector<std::string>& out) {
  if (!fails(plan, "line") && !fails(plan, "layer")) return;
  if (!std::isfinite(plan.line.locked_n.hi)) return;
  if (plan.line.parts_suffice)
    out.push_back(fmt::format("{} line parts: {} sheave{} of that rating between truck and car",
                              plan.line.parts, plan.line.parts - 1,
                              plan.line.parts == 2 ? "" : "s"));
  else
    out.push_back(
        "no number of line parts within reach suffices: free the wheels, skates or dollies");
}

// Another place on the deck, while the car stays on it.
bool try_place(const Numbers& n, const Plan& plan, std::vector<std::string>& out) {
  const size_t of_place = failing(plan, kOfThePlace);
  if (of_place == 0 || of_place != failing(plan, kOfTheTruck)) return false;
  const auto ahead = centre_ahead_m(n);
  if (!ahead || !std::isfinite(n.mass_kg.hi) || !n.front_kg || !n.rear_kg || !n.deck_m || !n.car_m)
    return false;
  const auto place = physics::place_for({*n.front_kg, *n.rear_kg}, *n.truck_wheelbase_m, n.ratings,
                                        n.mass_kg.hi, 0.5);
  if (!place || !*place) return false;
  // Ahead and behind-the-headboard run against each other; both ends of what is not known must fit.
  const double back = ahead->hi - (*place)->hi, forward = (*place)->lo - ahead->lo;
  const double shift = back > 0 ? back : -forward;
  const Interval behind = n.behind_m + exactly(shift);
  const bool both_ends =
      ahead->lo - shift >= (*place)->lo - kHair && ahead->hi - shift <= (*place)->hi + kHair;
  if (!both_ends || behind.lo < 0 || behind.hi + *n.car_m > *n.deck_m) return false;
  out.push_back(fmt::format("stand the car {:.2f} m further {}",
                            std::ceil(std::abs(shift) * 100) / 100,
                            shift > 0 ? "back" : "forward"));
  return true;
}

// The other truck that needs least besides, then the lightest, then the shortest.
void try_trucks(const judge::RegisterBook& book, const Request& request,
                std::vector<std::string>& out) {
  std::optional<std::tuple<size_t, double, double, std::string>> best;
  std::optional<Plan> best_plan;
  std::vector<std::string> alike;
  for (const auto& [id, item] : book.trucks()) {
    if (id == request.truck) continue;
    Request other = request;
    other.truck = id;
    other.gear.clear();
    auto plan = checked_plan(book, other);
    if (!plan || failing(*plan, kOfTheTruck) > 0) continue;
    const auto open = static_cast<size_t>(
        std::ranges::count_if(plan->checks, [](const PlanCheck& check) { return fails(check); }));
    const std::tuple key{open, figure(item.text.gvwr(), Dimension::kMass).value_or(1e9),
                         figure(item.text.deck_length(), Dimension::kLength).value_or(1e9), id};
    if (best && key >= *best) continue;
    best = key;
    best_plan = std::move(*plan);
  }
  if (!best_plan) {
    out.push_back("no truck in the register takes this car");
    return;
  }
  const std::string& id = std::get<3>(*best);
  const PlanCheck* deck = find(*best_plan, "deck_length");
  const PlanCheck* gross = find(*best_plan, "gvwr");
  out.push_back(fmt::format(
      "take {} instead{}{}", id,
      deck && deck->best ? fmt::format(": deck {:+.2f} m", *deck->best) : "",
      gross && gross->best ? fmt::format(", gross weight {:+.0f} kg", *gross->best) : ""));
  Request other = request;
  other.truck = id;
  other.gear.clear();
  for (const std::string& more : changes_for(book, other, *best_plan))
    out.push_back(id + ": " + more);
}

}  // namespace

std::vector<std::string> changes_for(const judge::RegisterBook& book, const Request& request,
                                     const Plan& plan) {
  std::vector<std::string> out, unused;
  const Numbers n = numbers_of(*book.vehicle(request.vehicle), *book.truck(request.truck), request,
                               rules_for(book, request), unused);
  if (failing(plan, kOfTheTruck) > 0 && !try_place(n, plan, out)) {
    // Without a mass no truck is better than another.
    if (std::isfinite(n.mass_kg.hi)) try_trucks(book, request, out);
    return out;
  }
  try_gap(n, plan, out);
  try_ramps(n, plan, out);
  try_straps(n, request, plan, out);
  try_line(plan, out);
  return out;
}

}  // namespace fairlead::plan
