// Securement put to every input (every_input_kit.h); no source beyond arithmetic itself.
#include <gtest/gtest.h>

#include "daemon/physics/securement.h"
#include "daemon/physics/securement_defects.h"
#include "daemon/physics/securement_en12195.h"
#include "daemon/physics/securement_friction.h"
#include "daemon/physics/securement_recheck.h"
#include "daemon/physics/securement_wheel.h"
#include "daemon/physics/securement_wll.h"
#include "tests/unit/physics/every_input_kit.h"

namespace fairlead::physics {
namespace {

Tiedown strap_of(Interval wll) {
  return {.name = "strap",
          .parts = {{.name = "strap", .wll = wll, .why = ""}},
          .anchor = {},
          .path = Path::kSameSide,
          .legs = {{exactly(45), exactly(180)}}};
}

const auto load = [](const Inputs& in) {
  VehicleLoad one{.weight = x(in, 0), .tiedowns = {}, .friction = x(in, 2)};
  for (const End end : {End::kFront, End::kFront, End::kRear, End::kRear})
    one.tiedowns.push_back({strap_of(x(in, 1)), end});
  return one;
};
const auto by = [](Jurisdiction rules) {
  return [rules](const Inputs& in) { return said(check_securement(load(in), rules)); };
};
const auto over_top = [](const Inputs& in) {
  const auto need =
      over_top_lashings({x(in, 0), x(in, 1), x(in, 2), x(in, 3)}, Force::kForward, Edition::k2010);
  return need ? figures({need->number, need->whole}) : refusal();
};
const auto restrained = [](const Inputs& in) {
  const Restraint one{.limit_n = x(in, 1),
                      .legs = {{x(in, 2), x(in, 3)}},
                      .over_the_top = in[4] > 0,
                      .pretension_n = x(in, 4)};
  const auto held = g_capacity(std::vector{one}, x(in, 0), x(in, 5));
  return held ? figures({held->forward, held->rearward, held->left, held->right, held->down})
              : refusal();
};
const std::vector<Case> kCases{
    {"securement, United States", {2000, 1500, 0.3}, by(Jurisdiction::kUnitedStates)},
    {"securement, Canada", {2000, 1500, 0.3}, by(Jurisdiction::kCanada)},
    {"securement, EN 2003", {2000, 1500, 0.3}, by(Jurisdiction::kEurope2003)},
    {"securement, EN 2010", {2000, 1500, 0.3}, by(Jurisdiction::kEurope2010)},
    {"aggregate",
     {2000, 1500},
     [](const Inputs& in) {
       return said(check_aggregate(std::vector{strap_of(x(in, 1))}, x(in, 0), WeightUnit::kKg));
     }},
    {"count of a vehicle",
     {2000, 1500},
     [](const Inputs& in) {
       const std::vector<PlacedTiedown> placed{{strap_of(x(in, 1)), End::kFront}};
       return said(check_vehicle_count(placed, x(in, 0), WeightUnit::kLb, VehicleCount::kFour));
     }},
    {"count by length",
     {12, 2000},
     [](const Inputs& in) {
       return said(least_tiedowns_by_length(x(in, 0), x(in, 1), false, WeightUnit::kLb));
     }},
    {"g capacity", {1000, 5000, 30, 10, 0, 0.3}, restrained},
    {"over-top lashings", {2000, 0.3, 60, 4000}, over_top},
    {"mass per lashing",
     {0.3, 60, 4000},
     [](const Inputs& in) {
       return said(
           mass_per_over_top_kg(x(in, 0), x(in, 1), x(in, 2), Force::kSideways, Edition::k2010));
     }},
    {"pretension",
     {4000, 20'000},
     [](const Inputs& in) { return said(check_pretension(x(in, 0), x(in, 1))); }},
    {"direct lashing",
     {2000, 0.3, 45, 30, 20'000},
     [](const Inputs& in) {
       return said(check_direct_lashing({x(in, 0), x(in, 1), x(in, 2), x(in, 3)}, x(in, 4),
                                        Force::kForward, Edition::k2010));
     }},
    {"VDI form",
     {40'000, 0.8, 0.3, 2, 90},
     [](const Inputs& in) {
       return said(vdi_total_pretension_n(x(in, 0), in[1], x(in, 2), in[3], x(in, 4)));
     }},
    {"tilting",
     {0.9, 0.6},
     [](const Inputs& in) {
       return said(check_tilting_unlashed(x(in, 0), x(in, 1), Force::kSideways));
     }},
    {"webbing damage",
     {50, 3},
     [](const Inputs& in) { return said(check_webbing_damage(in[0], x(in, 1))); }},
    {"damage limit", {50}, [](const Inputs& in) { return said(webbing_damage_limit_mm(in[0])); }},
    {"over-top practice",
     {80},
     [](const Inputs& in) {
       const auto times = over_top_multiple(in[0]);
       return times ? figures({exactly(*times)}) : refusal();
     }},
    {"strap over a wheel",
     {0.4, 0.8, 0.3},
     [](const Inputs& in) {
       const auto way = strap_over_wheel(x(in, 0), x(in, 1), x(in, 2));
       return way ? figures({way->to_deck_deg, way->aside_deg}) : refusal();
     }},
    {"legs of a wheel strap",
     {50, 20},
     [](const Inputs& in) {
       const auto legs = wheel_strap_legs({x(in, 0), x(in, 1)}, Side::kLeft);
       return legs ? figures({(*legs)[0].to_front_deg, (*legs)[1].to_front_deg}) : refusal();
     }},
    {"look again",
     {100, 2},
     [](const Inputs& in) {
       return said(check_look(next_look(true, 80, 1), x(in, 0), x(in, 1), false));
     }},
};

TEST(EveryInput, OfSecurement) { put_to_all(kCases); }

}  // namespace
}  // namespace fairlead::physics
