// The pull of the car and what carries it. Where nobody chose a family of surface figures, both
// ends of what they say are taken; on ice less, which nobody should count on.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "daemon/base/nearest.h"
#include "daemon/physics/winching_drum.h"
#include "daemon/physics/winching_estimate.h"
#include "daemon/physics/winching_slings.h"
#include "daemon/plan/checks.h"

namespace fairlead::plan {
namespace {

using physics::at_most;
using physics::exactly;
using physics::from;
using physics::Standing;

constexpr double kGravity = physics::kStandardGravity;

Result<Interval> share_of(const std::string& surface) {
  std::vector<std::string_view> names;
  for (int i = 0; i <= static_cast<int>(physics::Surface::kBog); ++i) {
    const auto one = static_cast<physics::Surface>(i);
    const std::string_view word = physics::word_of(one);
    names.push_back(word.substr(0, word.find(',')));  // "bog, marsh or clinging clay" is "bog".
    if (names.back() == surface) return physics::surface_share_of_all(one);
  }
  return fail(Code::kNotFound,
              fmt::format("--surface: no '{}'; the nearest is '{}' (of {})", surface,
                          nearest(surface, names), fmt::join(names, ", ")));
}

// Adds the pulls on one slope: the hardest place of the way decides.
Status take_slope(const Numbers& n, const Interval& slope_deg, const Interval& share,
                  LinePlan& line) {
  if (!std::isfinite(n.mass_kg.hi)) {
    line.rolling_n = line.locked_n = {0, physics::kNoBound};
    return {};
  }
  const auto pulls = physics::rolling_pulls_n(n.mass_kg, slope_deg, share);
  if (!pulls) return std::unexpected(pulls.error());
  line.rolling_n = greatest(line.rolling_n, pulls->free_n);
  line.locked_n = greatest(line.locked_n, pulls->locked_n);
  return {};
}

// Points asked for, or all of the first kind that the file lists.
std::vector<const v1::AttachPoint*> points_of(const v1::Vehicle& car, const Request& request) {
  std::vector<const v1::AttachPoint*> out;
  for (const v1::AttachPoint& point : car.point()) {
    const bool asked = std::ranges::find(request.points, point.id()) != request.points.end();
    if (request.points.empty() ? point.kind() == car.point(0).kind() : asked) out.push_back(&point);
  }
  return out;
}

// One piece a point, of a kind that the vehicle file allows there.
struct Hooked {
  Interval weakest_n = exactly(physics::kNoBound);
  std::vector<std::string> gear;
  std::string lacking;  // The point without a piece.
};
Hooked hook_up(const std::vector<const v1::AttachPoint*>& points, const GearBag& bag) {
  Hooked out;
  for (const v1::AttachPoint* point : points) {
    const Piece* found = nullptr;
    for (const Piece& piece : bag.rigging) {
      const bool taken = std::ranges::find(out.gear, piece.item->text.id()) != out.gear.end();
      const bool allowed =
          std::ranges::find(point->gear(), static_cast<int>(piece.item->text.kind())) !=
          point->gear().end();
      if (!taken && allowed && (!found || piece.wll_kg.lo > found->wll_kg.lo)) found = &piece;
    }
    if (found == nullptr) {
      out.lacking = point->id();
      continue;
    }
    out.gear.push_back(found->item->text.id());
    out.weakest_n = least(out.weakest_n, found->wll_kg * kGravity);
  }
  return out;
}

// Layers of the drum while the rope comes in from `far_m` to `near_m`; the outer one pulls least.
void find_layers(const judge::TruckItem& truck, double rope_m, double far_m, double near_m,
                 LinePlan& line) {
  std::vector<physics::DrumLayerPull> layers;
  for (const judge::WinchLayer& layer : truck.layers)
    layers.push_back({static_cast<int>(layers.size()) + 1, static_cast<double>(layer.pull_n),
                      static_cast<double>(layer.length_mm) / 1000});
  const auto used = physics::layer_with_rope_out(layers, rope_m, {near_m, far_m});
  if (!used) return;
  line.first_layer = static_cast<int>(used->lo);
  line.last_layer = static_cast<int>(used->hi);
}

NamedCheck rope_check(const v1::Winch& winch, double far_m) {
  const auto rope = figure(winch.rope_length(), Dimension::kLength);
  const auto drum = figure(winch.drum_diameter(), Dimension::kLength);
  const auto thick = figure(winch.rope_diameter(), Dimension::kLength);
  if (!rope || !drum || !thick)
    return missing("rope", "rope reaches", "m", "the truck file gives no rope or drum");
  const double turn = std::numbers::pi * (*drum + *thick);
  return {"rope",
          from(physics::at_least("rope reaches", "m", exactly(*rope - 5 * turn), exactly(far_m)),
               "5 wraps of wire stay on the drum, 10 of synthetic rope", Standing::kSecondary)};
}

// The pull against each thing that carries it, in kN.
void add_strengths(const PullPlan& plan, const Interval& pull, const judge::TruckItem& truck,
                   const Hooked& hooked, const std::vector<const v1::AttachPoint*>& points,
                   const Numbers& n, Checks& out) {
  const auto kilonewtons = [](const Interval& newtons) { return newtons * 1e-3; };
  if (truck.line_rating_n) {
    out.push_back({"line", from(at_most("pull within the line's tag", "kN", kilonewtons(pull),
                                        exactly(static_cast<double>(*truck.line_rating_n) / 1000)),
                                "rating on the line's tag", Standing::kMaker)});
  } else {
    out.push_back(missing("line", "pull within the line's tag", "kN", "no line_rating on file"));
  }
  if (plan.line.last_layer > 0) {
    const auto& layer = truck.layers[static_cast<size_t>(plan.line.last_layer) - 1];
    out.push_back(
        {"layer",
         from(at_most(fmt::format("pull within drum layer {}", plan.line.last_layer), "kN",
                      kilonewtons(pull), exactly(static_cast<double>(layer.pull_n) / 1000)),
              "winch maker's figures, by the truck file", Standing::kMaker)});
  }
  const bool two = points.size() >= 2;
  const auto share = physics::bridle_leg_share(n.legs_deg.value_or(Interval{0, 90}));
  const Interval leg = two && share ? pull * *share : pull;
  if (std::isfinite(hooked.weakest_n.lo))
    out.push_back({"gear", from(at_most("pull of one leg within its gear", "kN", kilonewtons(leg),
                                        kilonewtons(hooked.weakest_n)),
                                "rating of the gear", Standing::kMaker)});
  Interval weakest = exactly(physics::kNoBound);
  for (const v1::AttachPoint* point : points) {
    const auto rating = figure(point->rating(), Dimension::kForce);
    weakest = least(weakest, rating ? exactly(*rating) : Interval{0, physics::kNoBound});
  }
  if (points.empty() || weakest.lo == 0) {
    out.push_back(missing("leg", "pull of one leg within its point", "kN",
                          "the vehicle file gives no point, or no rating for it"));
  } else {
    out.push_back({"leg", from(at_most("pull of one leg within its point", "kN", kilonewtons(leg),
                                       kilonewtons(weakest)),
                               "maker's recovery guide, by the vehicle file", Standing::kMaker)});
  }
}

void find_parts(const judge::TruckItem& truck, const Interval& pull, LinePlan& line) {
  double most = truck.line_rating_n ? static_cast<double>(*truck.line_rating_n) : 0;
  if (line.last_layer > 0)
    most = std::min(
        most, static_cast<double>(truck.layers[static_cast<size_t>(line.last_layer) - 1].pull_n));
  const auto found = physics::fewest_parts(pull, exactly(most));
  line.parts_suffice = found && *found;
  if (line.parts_suffice) line.parts = (*found)->tackle.parts;
}

}  // namespace

Result<PullPlan> pull_checks(const Numbers& n, const Request& request,
                             const judge::VehicleItem& vehicle, const judge::TruckItem& truck,
                             const GearBag& bag) {
  const auto share = share_of(request.surface);
  if (!share) return std::unexpected(share.error());
  const bool onto_deck = request.mode == Mode::kLoad || request.mode == Mode::kUnload;
  PullPlan plan;
  plan.line.rolling_n = plan.line.locked_n = exactly(0);
  if (auto fine = take_slope(n, n.ground_deg, *share, plan.line); !fine)
    return std::unexpected(fine.error());
  if (onto_deck && n.deck_deg) {
    const Interval hard = physics::surface_share_of_all(physics::Surface::kHardRoad);
    if (auto fine = take_slope(n, *n.deck_deg, hard, plan.line); !fine)
      return std::unexpected(fine.error());
  }
  const Interval pull = request.rolls == Rolls::kYes ? plan.line.rolling_n
                        : request.rolls == Rolls::kNo
                            ? plan.line.locked_n
                            : Interval{plan.line.rolling_n.lo, plan.line.locked_n.hi};
  const auto points = points_of(vehicle.text, request);
  const Hooked hooked = hook_up(points, bag);
  for (const v1::AttachPoint* point : points) plan.line.points.push_back(point->id());
  plan.line.gear = hooked.gear;
  if (n.gap_m && truck.text.winch_size() == 1) {
    const double deck = onto_deck ? n.deck_m.value_or(0) : 0;
    const double rope = figure(truck.text.winch(0).rope_length(), Dimension::kLength).value_or(0);
    if (!truck.layers.empty() && rope > 0)
      find_layers(truck, rope, deck + n.gap_m->hi, onto_deck ? n.behind_m.lo : 0, plan.line);
    plan.checks.push_back(rope_check(truck.text.winch(0), deck + n.gap_m->hi));
  }
  add_strengths(plan, pull, truck, hooked, points, n, plan.checks);
  if (!hooked.lacking.empty()) {
    NamedCheck lacking{"gear_allowed",
                       from(physics::at_least("gear for every point", "items",
                                              exactly(static_cast<double>(hooked.gear.size())),
                                              exactly(static_cast<double>(points.size()))),
                            "vehicle file", Standing::kMaker)};
    lacking.check.words =
        fmt::format("nothing the truck carries is allowed at '{}'", hooked.lacking);
    plan.checks.push_back(lacking);
  }
  find_parts(truck, pull, plan.line);
  return plan;
}

}  // namespace fairlead::plan
