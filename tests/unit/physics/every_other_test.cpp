// Axles, deck, electrics, charts and truck motion put to every input (every_input_kit.h); no source
// beyond arithmetic itself.
#include <gtest/gtest.h>

#include "daemon/physics/axles.h"
#include "daemon/physics/boosting_class.h"
#include "daemon/physics/boosting_order.h"
#include "daemon/physics/boosting_rest.h"
#include "daemon/physics/bridge_formula.h"
#include "daemon/physics/control_charts.h"
#include "daemon/physics/deck.h"
#include "daemon/physics/truck_motion.h"
#include "tests/unit/physics/every_input_kit.h"

namespace fairlead::physics {
namespace {

const AxleRatings ratings{.front_kg = 4536, .rear_kg = 7938, .gvwr_kg = 11'793, .payload_kg = 4000};
const auto car = [](const Inputs& in) {
  return Underside{.wheelbase_m = in[0],
                   .front_overhang_m = in[1],
                   .rear_overhang_m = in[2],
                   .clearance_m = x(in, 3),
                   .wheel_radius_m = in[4]};
};
const auto rooms = [](const Result<std::vector<KinkRoom>>& found) {
  if (!found) return refusal();
  Said out;
  for (const KinkRoom& one : *found) out.figures.push_back(one.least_m());
  return out;
};
const std::vector<Case> kCases{
    {"axle loads",
     {3300, 4100, 5.2, 1640, 1.1},
     [](const Inputs& in) {
       const auto loads = axle_loads({in[0], in[1]}, in[2], in[3], in[4]);
       return loads ? figures({exactly(loads->front_kg), exactly(loads->rear_kg)}) : refusal();
     }},
    {"axle margins",
     {3300, 4100, 5.2, 1640, 1.1},
     [](const Inputs& in) {
       const auto m = axle_margins({in[0], in[1]}, in[2], ratings, x(in, 3), x(in, 4));
       return m ? figures({*m->front_kg, *m->rear_kg, *m->gvwr_kg, *m->payload_kg, m->steer_share})
                : refusal();
     }},
    {"place",
     {3300, 4100, 5.2, 1640, 0.5},
     [](const Inputs& in) {
       const auto place = place_for({in[0], in[1]}, in[2], ratings, in[3], in[4]);
       if (!place) return refusal();
       return *place ? figures({**place}) : figures({});
     }},
    {"most lifted",
     {1700, 3.3, 2.4, 0.5},
     [](const Inputs& in) {
       const auto most = most_lifted_kg(in[0], in[1], in[2], in[3]);
       return most ? figures({exactly(*most)}) : refusal();
     }},
    {"class",
     {11'793},
     [](const Inputs& in) {
       const auto found = gvwr_class(in[0]);
       return found ? figures({exactly(*found)}) : refusal();
     }},
    {"licence",
     {11'793, 0},
     [](const Inputs& in) {
       const auto found = needs_commercial_licence(in[0], in[1]);
       return found ? figures({exactly(*found)}) : refusal();
     }},
    {"bridge formula",
     {36},
     [](const Inputs& in) {
       const auto limit = bridge_formula_lb(4, in[0]);
       return limit ? figures({exactly(*limit)}) : refusal();
     }},
    {"bridge groups",
     {9000, 15'000, 17},
     [](const Inputs& in) {
       const std::array<AxleWeight, 2> axles{{{0, in[0]}, {in[2], in[1]}}};
       const auto groups = bridge_groups(axles);
       if (!groups) return refusal();
       Said out;
       for (const BridgeGroup& one : *groups) out.figures.push_back(exactly(one.margin_lb()));
       return out;
     }},
    {"underside",
     {2.6, 0.8, 0.7, 0.14, 0.3},
     [](const Inputs& in) {
       const auto angles = underside_angles(car(in));
       return angles
                  ? figures({angles->approach_deg, angles->departure_deg, angles->break_over_deg})
                  : refusal();
     }},
    {"kink",
     {2.6, 0.8, 0.7, 0.14, 0.3, 8},
     [](const Inputs& in) {
       const auto room = kink_room(car(in), x(in, 5));
       return room ? figures({room->least_m()}) : refusal();
     }},
    {"way",
     {2.6, 0.8, 0.7, 0.14, 0.3, 1, 6, 11},
     [](const Inputs& in) {
       return rooms(
           way_room(car(in), {.ground_deg = x(in, 5), .ramp_deg = x(in, 6), .deck_deg = x(in, 7)}));
     }},
    {"steepest way",
     {2.6, 0.8, 0.7, 0.14, 0.3, 0.02},
     [](const Inputs& in) { return said(steepest_way_deg(car(in), in[5])); }},
    {"deck fit",
     {6.4, 6.4, 5.9, 0.3},
     [](const Inputs& in) {
       const auto fit = deck_fit(in[0], in[1], in[2], in[3]);
       return fit ? figures({exactly(fit->length_margin_m), exactly(fit->overhang_m)}) : refusal();
     }},
    {"window",
     {12.6, 11, 15},
     [](const Inputs& in) { return said(check_window(x(in, 0), in[1], in[2])); }},
    {"48 V bands",
     {50},
     [](const Inputs& in) {
       const auto bands = bands_48(x(in, 0));
       if (!bands) return refusal();
       const Interval both_ends{static_cast<double>(bands->least),
                                static_cast<double>(bands->most)};
       return figures({both_ends});
     }},
    {"charge",
     {12.4, 8},
     [](const Inputs& in) {
       const auto found = charge_at_rest_of_all(x(in, 0), in[1]);
       return found ? Said{.figures = {found->charge}, .checks = {check_charge(*found, 0.5)}}
                    : refusal();
     }},
    {"clamps on",
     {10, 20, 30, 40},
     [](const Inputs& in) {
       return said(check_connecting(ClampTimes{x(in, 0), x(in, 1), x(in, 2), x(in, 3)}));
     }},
    {"clamps off",
     {40, 30, 20, 10},
     [](const Inputs& in) {
       return said(check_disconnecting(ClampTimes{x(in, 0), x(in, 1), x(in, 2), x(in, 3)}));
     }},
    {"u-chart",
     {4, 2},
     [](const Inputs& in) {
       const auto chart = u_chart(std::vector{in[0], 3.0}, std::vector{in[1], 1.0});
       return chart ? figures({exactly(chart->centre), {chart->points[0].lo, chart->points[0].hi}})
                    : refusal();
     }},
    {"EWMA",
     {50, 50, 2, 0.3, 3},
     [](const Inputs& in) {
       const auto chart = ewma_chart(std::vector{in[0]},
                                     {.target = in[1], .sd = in[2], .lambda = in[3], .k = in[4]});
       return chart ? figures({{chart->points[0].lo, chart->points[0].hi},
                               exactly(chart->points[0].value)})
                    : refusal();
     }},
    {"CUSUM",
     {325, 325, 0.3, 4},
     [](const Inputs& in) {
       const auto sums = cusum(std::vector{in[0]}, {.target = in[1], .k = in[2], .h = in[3]});
       return sums ? figures({exactly(sums->points[0].hi), exactly(sums->points[0].lo)})
                   : refusal();
     }},
    {"truck motion",
     {20, 0, 0.2},
     [](const Inputs& in) {
       std::vector<SpeedFix> fixes;
       for (int i = 0; i < 6; ++i) fixes.push_back({i * 1'000'000, 20, 0, 0.2});
       fixes[3] = {3'000'000, in[0], in[1], in[2]};
       const auto found = motion_evidence(fixes, {});
       if (!found) return refusal();
       Said out;
       for (const PeakMotion& one : found->peaks) out.figures.push_back(one.g);
       return out;
     }},
};

TEST(EveryInput, OfTheOthers) { put_to_all(kCases); }

}  // namespace
}  // namespace fairlead::physics
