// Winching put to every input (every_input_kit.h); no source beyond arithmetic itself.
#include <gtest/gtest.h>

#include "daemon/physics/winching_drum.h"
#include "daemon/physics/winching_estimate.h"
#include "daemon/physics/winching_rigging.h"
#include "daemon/physics/winching_slings.h"
#include "daemon/physics/winching_tackle.h"
#include "tests/unit/physics/every_input_kit.h"

namespace fairlead::physics {
namespace {

constexpr Drum kDrum{.diameter_mm = 100,
                     .width_mm = 230,
                     .rope_mm = 10,
                     .rope_length_m = 25,
                     .first_layer_n = 35'600};

const auto drum_of = [](const Inputs& in) {
  return Drum{.diameter_mm = in[0],
              .width_mm = in[1],
              .rope_mm = in[2],
              .rope_length_m = in[3],
              .first_layer_n = in[4]};
};
const std::vector<Case> kCases{
    {"grade, exact", {11}, [](const Inputs& in) { return said(grade_share_exact(x(in, 0))); }},
    {"grade, rule", {11}, [](const Inputs& in) { return said(grade_share_rule(x(in, 0))); }},
    {"rolling pulls",
     {1500, 11, 0.1},
     [](const Inputs& in) {
       const auto pulls = rolling_pulls_n(x(in, 0), x(in, 1), x(in, 2));
       return pulls ? figures({pulls->free_n, pulls->locked_n}) : refusal();
     }},
    {"estimate",
     {1500, 11},
     [](const Inputs& in) {
       const auto pull = estimate_pull({.mass_kg = x(in, 0), .slope_deg = x(in, 1), .family = {}},
                                       Purpose::kPlanning);
       return pull ? figures({pull->pull_n}) : refusal();
     }},
    {"fewest parts",
     {20'000, 9000},
     [](const Inputs& in) {
       const auto plan = fewest_parts(x(in, 0), x(in, 1));
       if (!plan) return refusal();
       return *plan ? figures({(*plan)->loads.line_n, (*plan)->loads.anchor_n}) : figures({});
     }},
    {"tackle",
     {20'000},
     [](const Inputs& in) {
       const auto loads = tackle_loads(x(in, 0), {.parts = 2, .sheaves = 1});
       return loads ? figures({loads->tackle_n, loads->line_n, loads->anchor_n}) : refusal();
     }},
    {"parts needed",
     {20'000, 9000},
     [](const Inputs& in) { return said(parts_needed(x(in, 0), x(in, 1))); }},
    {"two lines",
     {9000, 60},
     [](const Inputs& in) { return said(two_line_pull_n(x(in, 0), x(in, 1))); }},
    {"block", {9000, 60}, [](const Inputs& in) { return said(block_load_n(x(in, 0), x(in, 1))); }},
    {"leg factor", {60}, [](const Inputs& in) { return said(leg_tension_factor(x(in, 0))); }},
    {"leg by size",
     {120, 96},
     [](const Inputs& in) { return said(leg_tension_factor_by_size(x(in, 0), x(in, 1))); }},
    {"bridle", {60}, [](const Inputs& in) { return said(bridle_leg_share(x(in, 0))); }},
    {"two-leg hitch", {60}, [](const Inputs& in) { return said(two_leg_factor(in[0])); }},
    {"drum",
     {100, 230, 10, 25, 35'600},
     [](const Inputs& in) {
       const auto layers = drum_layers(drum_of(in));
       if (!layers) return refusal();
       Said out;
       for (const DrumLayerPull& one : *layers)
         out.figures.push_back(exactly(one.pull_n)), out.figures.push_back(exactly(one.length_m));
       return out;
     }},
    {"pull with rope out",
     {25, 10},
     [](const Inputs& in) {
       return said(pull_with_rope_out_n(drum_layers(kDrum).value(), in[0], x(in, 1)));
     }},
    {"layer with rope out",
     {25, 10},
     [](const Inputs& in) {
       return said(layer_with_rope_out(drum_layers(kDrum).value(), in[0], x(in, 1)));
     }},
    {"wraps",
     {100, 230, 10, 25, 35'600, 12},
     [](const Inputs& in) {
       return said(check_wraps(drum_of(in), RopeKind::kSynthetic, x(in, 5)));
     }},
    {"peak",
     {8000, 17'800, 0.5},
     [](const Inputs& in) {
       const RiggingPart part{
           .name = "line", .limit_n = x(in, 1), .share_of_line = x(in, 2), .why = ""};
       return said(check_peak(x(in, 0), std::vector{part}));
     }},
};

TEST(EveryInput, OfWinching) { put_to_all(kCases); }

}  // namespace
}  // namespace fairlead::physics
