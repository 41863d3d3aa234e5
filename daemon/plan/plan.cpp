#include "daemon/plan/plan.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "daemon/base/nearest.h"
#include "daemon/plan/change.h"
#include "daemon/plan/checks.h"

namespace fairlead::plan {
namespace {

template <typename Map>
Error not_there(std::string_view what, const std::string& id, const Map& known) {
  std::vector<std::string_view> names;
  for (const auto& [name, item] : known) names.push_back(name);
  return {Code::kNotFound,
          names.empty()
              ? fmt::format("the register holds no {}; give its files with --register", what)
              : fmt::format("{} '{}' is not in the register; the nearest is '{}'", what, id,
                            nearest(id, names))};
}

// All groups of checks at one set of figures.
struct Found {
  Checks checks;
  LinePlan line;
};
Result<Found> all_checks(const Numbers& n, const Request& request,
                         const judge::VehicleItem& vehicle, const judge::TruckItem& truck,
                         const GearBag& bag, const StrapSet& straps) {
  Found found;
  const auto add = [&](const Checks& more) {
    found.checks.insert(found.checks.end(), more.begin(), more.end());
  };
  const bool carries = request.mode == Mode::kLoad;
  if (carries) {
    const auto deck = deck_checks(n);
    if (!deck) return std::unexpected(deck.error());
    add(*deck);
  }
  add(way_checks(n, request.mode));
  const auto pull = pull_checks(n, request, vehicle, truck, bag);
  if (!pull) return std::unexpected(pull.error());
  add(pull->checks);
  found.line = pull->line;
  if (carries) {
    const auto tied = strap_checks(n, straps);
    if (!tied) return std::unexpected(tied.error());
    add(*tied);
  }
  return found;
}

void put_straps(const StrapSet& set, Plan& plan) {
  double sum = 0;
  for (const Piece& piece : set.pieces) sum += piece.wll_kg.lo;
  for (size_t i = 0; i < set.pieces.size(); ++i) {
    const double wll = set.pieces[i].wll_kg.lo;
    plan.straps.push_back({set.pieces[i].item->text.id(), wheel_of(i), wll,
                           wll * physics::credit_of(set.path), sum > 0 ? wll / sum : 0});
  }
}

Outline outline_of(const Numbers& best) {
  Outline out{.truck_wheelbase = best.truck_wheelbase_m.value_or(0),
              .deck = best.deck_m.value_or(0),
              .deck_ahead = best.deck_ahead_m.value_or(0),
              .deck_height = best.deck_height_m.value_or(0),
              .car = best.car_m.value_or(0),
              .car_wheelbase = best.wheelbase_m.value_or(0),
              .car_front = best.front_m.value_or(0),
              .car_height = best.height_m.value_or(0),
              .car_clearance = best.clearance_m.value_or(0),
              .wheel = best.wheel_radius_m * 2,
              .behind_headboard = best.behind_m.lo};
  if (std::isfinite(best.mass_kg.hi)) out.mass_kg = best.mass_kg.lo;
  if (const auto ahead = centre_ahead_m(best)) out.centre_ahead = ahead->lo;
  if (out.mass_kg && out.centre_ahead && best.front_kg && best.rear_kg && best.truck_wheelbase_m) {
    const auto loads = physics::axle_loads({*best.front_kg, *best.rear_kg}, *best.truck_wheelbase_m,
                                           *out.mass_kg, *out.centre_ahead);
    if (loads) out.front_kg = loads->front_kg, out.rear_kg = loads->rear_kg;
  }
  return out;
}

// Steps in order; a caution is said with the first step that needs it, each once.
std::vector<PlanStep> steps_of(std::span<const judge::Procedure> procedures) {
  std::vector<PlanStep> out;
  std::set<std::string> said_steps, said_cautions;
  for (const judge::Procedure& procedure : procedures) {
    for (const v1::Step& step : procedure.text.step()) {
      PlanStep next{procedure.id, step.say(), {}};
      for (const std::string& id : step.caution()) {
        for (const v1::CautionText& caution : procedure.text.caution())
          if (caution.id() == id && said_cautions.insert(caution.say()).second)
            next.cautions.push_back(caution.say());
      }
      if (said_steps.insert(step.say()).second || !next.cautions.empty()) out.push_back(next);
    }
  }
  return out;
}

}  // namespace

std::vector<std::string> procedures_of(Mode mode) {
  switch (mode) {
    case Mode::kLoad:
      return {"load", "carry"};
    case Mode::kUnload:
      return {"unload"};
    case Mode::kWinchOut:
      return {"winch-out"};
    case Mode::kReposition:
      return {"reposition"};
  }
  return {};
}

Result<Plan> checked_plan(const judge::RegisterBook& book, const Request& request) {
  const judge::VehicleItem* vehicle = book.vehicle(request.vehicle);
  if (vehicle == nullptr)
    return std::unexpected(not_there("vehicle", request.vehicle, book.vehicles()));
  const judge::TruckItem* truck = book.truck(request.truck);
  if (truck == nullptr) return std::unexpected(not_there("truck", request.truck, book.trucks()));
  Plan plan;
  plan.vehicle = request.vehicle;
  plan.truck = request.truck;
  plan.vehicle_title = vehicle->text.title();
  plan.truck_title = truck->text.title();
  const BaseRules rules = rules_for(book, request);
  plan.rules = physics::name_of(rules.rules);
  plan.rules_title = physics::rules_of(rules.rules);
  plan.rules_from = rules.from;
  const Numbers numbers = numbers_of(*vehicle, *truck, request, rules, plan.notes);
  const Numbers best = middle_of(numbers);
  const auto bag = gear_for(book, request);
  if (!bag) return std::unexpected(bag.error());
  plan.notes.insert(plan.notes.end(), bag->notes.begin(), bag->notes.end());
  const StrapSet straps = smallest_strap_set(*bag, numbers, request.path);
  const auto wide = all_checks(numbers, request, *vehicle, *truck, *bag, straps);
  if (!wide) return std::unexpected(wide.error());
  const auto narrow = all_checks(best, request, *vehicle, *truck, *bag, straps);
  if (!narrow) return std::unexpected(narrow.error());
  plan.fits = Verdict::kMet;
  for (const NamedCheck& check : wide->checks) {
    PlanCheck out{check.id, check.check, {}};
    const auto same = std::ranges::find(narrow->checks, check.id, &NamedCheck::id);
    if (same != narrow->checks.end() && physics::is_exact(same->check.margin) &&
        std::isfinite(same->check.margin.lo))
      out.best = same->check.margin.lo;
    if (check.check.decides) plan.fits = physics::both(plan.fits, check.check.verdict);
    plan.checks.push_back(out);
  }
  plan.line = wide->line;
  if (request.mode == Mode::kLoad) put_straps(straps, plan);
  plan.outline = outline_of(best);
  plan.outline.tail_first = request.tail_first;
  return plan;
}

Result<Plan> make_plan(const judge::RegisterBook& book,
                       std::span<const judge::Procedure> procedures, const Request& request) {
  auto plan = checked_plan(book, request);
  if (!plan) return plan;
  plan->steps = steps_of(procedures);
  if (plan->fits != Verdict::kMet) plan->changes = changes_for(book, request, *plan);
  return plan;
}

}  // namespace fairlead::plan
