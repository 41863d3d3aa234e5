// What must hold of every function of this room whatever is put in: an input that no formula holds
// for is refused, or the answer is exact or open (unproven), never nonsense. One case a function.
//
// The expectations are those of arithmetic itself (an answer is ordered, a verdict is that of its
// margin); no source beyond that.
#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <limits>
#include <optional>

#include "daemon/physics/angles.h"
#include "daemon/physics/axles.h"
#include "daemon/physics/boosting_class.h"
#include "daemon/physics/boosting_order.h"
#include "daemon/physics/boosting_rest.h"
#include "daemon/physics/bridge_formula.h"
#include "daemon/physics/control_charts.h"
#include "daemon/physics/deck.h"
#include "daemon/physics/default_wll.h"
#include "daemon/physics/securement.h"
#include "daemon/physics/securement_defects.h"
#include "daemon/physics/securement_en12195.h"
#include "daemon/physics/securement_friction.h"
#include "daemon/physics/securement_recheck.h"
#include "daemon/physics/securement_wll.h"
#include "daemon/physics/statistics.h"
#include "daemon/physics/truck_motion.h"
#include "daemon/physics/winching_drum.h"
#include "daemon/physics/winching_estimate.h"
#include "daemon/physics/winching_rigging.h"
#include "daemon/physics/winching_slings.h"
#include "daemon/physics/winching_tackle.h"

namespace fairlead::physics {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kTiny = std::numeric_limits<double>::denorm_min();

// What a function said: figures and checks; nothing where it refused.
struct Said {
  bool refused = false;
  std::vector<Interval> figures;
  std::vector<Check> checks;
};
Said refusal() { return {.refused = true, .figures = {}, .checks = {}}; }
Said figures(std::vector<Interval> found) { return {.figures = std::move(found), .checks = {}}; }
Said said(const Result<Interval>& figure) { return figure ? figures({*figure}) : refusal(); }
Said said(const Result<Check>& check) {
  return check ? Said{.figures = {}, .checks = {*check}} : refusal();
}
Said said(const Result<std::vector<Check>>& checks) {
  return checks ? Said{.figures = {}, .checks = *checks} : refusal();
}
Said said(const std::optional<double>& figure) {
  return figure ? figures({exactly(*figure)}) : refusal();
}

struct Case {
  const char* name;
  std::vector<double> good;  // Inputs that are accepted.
  std::function<Said(const std::vector<double>&)> call;
};

using Inputs = std::vector<double>;
Interval x(const Inputs& in, size_t i) { return exactly(in[i]); }

Tiedown strap_of(Interval wll) {
  return {.name = "strap",
          .parts = {{.name = "strap", .wll = wll, .why = ""}},
          .anchor = {},
          .path = Path::kSameSide,
          .legs = {{exactly(45), exactly(180)}}};
}
constexpr Drum kDrum{.diameter_mm = 100,
                     .width_mm = 230,
                     .rope_mm = 10,
                     .rope_length_m = 25,
                     .first_layer_n = 35'600};

std::vector<Case> securement_cases() {
  const auto load = [](const Inputs& in) {
    VehicleLoad one{.weight = x(in, 0), .tiedowns = {}, .friction = x(in, 2)};
    for (const End end : {End::kFront, End::kFront, End::kRear, End::kRear})
      one.tiedowns.push_back({strap_of(x(in, 1)), end});
    return one;
  };
  const auto by = [&](Jurisdiction rules) {
    return [load, rules](const Inputs& in) { return said(check_securement(load(in), rules)); };
  };
  const auto over_top = [](const Inputs& in) {
    const auto need = over_top_lashings({x(in, 0), x(in, 1), x(in, 2), x(in, 3)}, Force::kForward,
                                        Edition::k2010);
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
  return {
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
      {"look again",
       {100, 2},
       [](const Inputs& in) {
         return said(check_look(next_look(true, 80, 1), x(in, 0), x(in, 1), false));
       }},
  };
}

std::vector<Case> winching_cases() {
  const auto drum_of = [](const Inputs& in) {
    return Drum{.diameter_mm = in[0],
                .width_mm = in[1],
                .rope_mm = in[2],
                .rope_length_m = in[3],
                .first_layer_n = in[4]};
  };
  return {
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
      {"block",
       {9000, 60},
       [](const Inputs& in) { return said(block_load_n(x(in, 0), x(in, 1))); }},
      {"leg factor", {60}, [](const Inputs& in) { return said(leg_tension_factor(x(in, 0))); }},
      {"leg by size",
       {120, 96},
       [](const Inputs& in) { return said(leg_tension_factor_by_size(x(in, 0), x(in, 1))); }},
      {"bridle", {60}, [](const Inputs& in) { return said(bridle_leg_share(x(in, 0))); }},
      {"two-leg hitch", {60}, [](const Inputs& in) { return said(two_leg_factor(in[0])); }},
      {"drum",
       {100, 230, 10, 25, 35'600},
       [drum_of](const Inputs& in) {
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
       [drum_of](const Inputs& in) {
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
}

std::vector<Case> other_cases() {
  const AxleRatings ratings{
      .front_kg = 4536, .rear_kg = 7938, .gvwr_kg = 11'793, .payload_kg = 4000};
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
  return {
      {"axle loads",
       {3300, 4100, 5.2, 1640, 1.1},
       [](const Inputs& in) {
         const auto loads = axle_loads({in[0], in[1]}, in[2], in[3], in[4]);
         return loads ? figures({exactly(loads->front_kg), exactly(loads->rear_kg)}) : refusal();
       }},
      {"axle margins",
       {3300, 4100, 5.2, 1640, 1.1},
       [ratings](const Inputs& in) {
         const auto m = axle_margins({in[0], in[1]}, in[2], ratings, x(in, 3), x(in, 4));
         return m ? figures(
                        {*m->front_kg, *m->rear_kg, *m->gvwr_kg, *m->payload_kg, m->steer_share})
                  : refusal();
       }},
      {"place",
       {3300, 4100, 5.2, 1640, 0.5},
       [ratings](const Inputs& in) {
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
       [car](const Inputs& in) {
         const auto angles = underside_angles(car(in));
         return angles
                    ? figures({angles->approach_deg, angles->departure_deg, angles->break_over_deg})
                    : refusal();
       }},
      {"kink",
       {2.6, 0.8, 0.7, 0.14, 0.3, 8},
       [car](const Inputs& in) {
         const auto room = kink_room(car(in), x(in, 5));
         return room ? figures({room->least_m()}) : refusal();
       }},
      {"way",
       {2.6, 0.8, 0.7, 0.14, 0.3, 1, 6, 11},
       [car, rooms](const Inputs& in) {
         return rooms(way_room(
             car(in), {.ground_deg = x(in, 5), .ramp_deg = x(in, 6), .deck_deg = x(in, 7)}));
       }},
      {"steepest way",
       {2.6, 0.8, 0.7, 0.14, 0.3, 0.02},
       [car](const Inputs& in) { return said(steepest_way_deg(car(in), in[5])); }},
      {"deck fit",
       {6.4, 6.4, 5.9, 0.3},
       [](const Inputs& in) {
         const auto fit = deck_fit(in[0], in[1], in[2], in[3]);
         return fit ? figures({exactly(fit->length_margin_m), exactly(fit->overhang_m)})
                    : refusal();
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
         return chart
                    ? figures({exactly(chart->centre), {chart->points[0].lo, chart->points[0].hi}})
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
}

std::vector<Case> all_cases() {
  std::vector<Case> all = securement_cases();
  for (const auto& more : {winching_cases(), other_cases()})
    all.insert(all.end(), more.begin(), more.end());
  return all;
}

void expect_sense(const Said& out, const std::string& where) {
  if (out.refused) return;
  for (const Interval& figure : out.figures) EXPECT_TRUE(sound(figure)) << where;
  for (const Check& check : out.checks) {
    EXPECT_EQ(check.verdict, verdict_of(check.margin)) << where << ": " << check.what;
  }
}

TEST(EveryFunction, TakesItsOwnExample) {
  for (const Case& one : all_cases()) {
    const Said out = one.call(one.good);
    EXPECT_FALSE(out.refused) << one.name;
    EXPECT_FALSE(out.figures.empty() && out.checks.empty()) << one.name;
    expect_sense(out, one.name);
  }
}

TEST(EveryFunction, RefusesNanAndInfinity) {
  for (const Case& one : all_cases()) {
    for (size_t i = 0; i < one.good.size(); ++i) {
      for (const double bad : {kNan, -kNoBound}) {
        Inputs in = one.good;
        in[i] = bad;
        const Said out = one.call(in);
        // A rating or pretension that makes no sense may stand in a list of checks, all open.
        for (const Check& check : out.checks)
          EXPECT_NE(check.verdict, Verdict::kMet) << one.name << ", input " << i << " " << bad;
        EXPECT_TRUE(out.refused || !out.checks.empty())
            << one.name << ", input " << i << " " << bad;
      }
    }
  }
}

TEST(EveryFunction, IsExactOrRefusesAtTheEdges) {
  const double edges[] = {0,    -0.0, kTiny, -kTiny, 1,     -1,      1e-12, 0.5,
                          0.8,  30,   45,    90,     -90,   180,     360,   1e6,
                          -1e6, 1e12, 1e300, -1e300, 1e308, kNoBound};
  for (const Case& one : all_cases()) {
    for (size_t i = 0; i < one.good.size(); ++i) {
      for (const double edge : edges) {
        Inputs in = one.good;
        in[i] = edge;
        expect_sense(one.call(in), std::string(one.name) + ", input " + std::to_string(i) + " = " +
                                       std::to_string(edge));
        for (size_t j = i + 1; j < one.good.size(); ++j) {
          for (const double other : edges) {
            in[j] = other;
            expect_sense(one.call(in), std::string(one.name) + ", inputs " + std::to_string(i) +
                                           " = " + std::to_string(edge) + ", " + std::to_string(j) +
                                           " = " + std::to_string(other));
          }
          in[j] = one.good[j];
        }
      }
    }
  }
}

// Plain functions without a refusal of their own: nothing is made up from NaN.
TEST(EveryFunction, WithoutARefusalStaysOpen) {
  for (const double bad : {kNan, -kNoBound}) {
    EXPECT_EQ(at_least("a", "m", exactly(bad), exactly(1)).verdict == Verdict::kMet, false);
    EXPECT_EQ(hint_at(exactly(kNan), VoltageClass::k12), Hint::kNone);
    EXPECT_EQ(verdict_of(exactly(bad)) == Verdict::kMet, false);
  }
  EXPECT_EQ(at_most("a", "m", exactly(kNan), exactly(1)).verdict, Verdict::kUnproven);
  EXPECT_FALSE(sound(sin_over(exactly(kNan))));
  EXPECT_TRUE(std::isnan(degrees_of_percent(kNan)));
  EXPECT_EQ(degrees_of_percent(kNoBound), 90);
  EXPECT_FALSE(sound(cos_over({0, kNoBound})));
  EXPECT_EQ(poisson_interval(3, kNan).hi, kNoBound);
  EXPECT_EQ(wilson_interval(0, 0), (Interval{0, 1}));
  EXPECT_EQ(exact_share_interval(3, 2), (Interval{0, 1}));
  EXPECT_EQ(compare_rates(3, 0, 4, 1), 1);
  for (const int64_t size : {int64_t{-1}, int64_t{0}, std::numeric_limits<int64_t>::min()}) {
    EXPECT_FALSE(printed_wll(TiedownMaterial::kWebbing, size));
    EXPECT_FALSE(printed_strapping_wll(size, 1'000));
    EXPECT_FALSE(printed_strapping_wll(31'700, size));
  }
  // However wide, the widest printed row and no more.
  EXPECT_EQ(printed_wll(TiedownMaterial::kWebbing, std::numeric_limits<int64_t>::max())->kg, 1810);
  EXPECT_EQ(recovery_exempt({.claimed = true,
                             .disabled_at = "here",
                             .facility = "there",
                             .unit_gross_lb = kNan,
                             .disabled_gross_lb = 1}) == Verdict::kMet,
            false);
  for (const double bad : {kNan, -1.0, kNoBound})
    for (const double tension :
         shares_at(std::vector{Restraint{.limit_n = exactly(1),
                                         .legs = {{exactly(0), exactly(180)}},
                                         .pretension_n = exactly(0)}},
                   std::vector{bad}, Direction::kForward, 100))
      EXPECT_TRUE(tension == 0 || std::isfinite(tension)) << bad;
}

// All masses and ratings times k: margins times k, numbers of pieces as they were.
TEST(Scaling, MarginsGoWithMassesAndRatings) {
  for (const double k : {0.25, 3.0, 7.5}) {
    const auto pull = [](double times) {
      return estimate_pull({.mass_kg = times * Interval{1500, 1640},
                            .slope_deg = {9, 13},
                            .surface = Surface::kGravel,
                            .family = {}},
                           Purpose::kPlanning)
          ->pull_n;
    };
    EXPECT_NEAR(pull(k).hi, k * pull(1).hi, 1e-6);
    EXPECT_NEAR(pull(k).lo, k * pull(1).lo, 1e-6);
    const auto direct = [](double times) {
      return check_direct_lashing({times * exactly(2000), exactly(0.3), {30, 50}, {10, 40}},
                                  times * exactly(20'000), Force::kForward, Edition::k2010)
          ->margin;
    };
    EXPECT_NEAR(direct(k).lo, k * direct(1).lo, 1e-6);
    EXPECT_NEAR(direct(k).hi, k * direct(1).hi, 1e-6);
    const auto lashings = [](double times) {
      return over_top_lashings(
                 {times * exactly(2000), exactly(0.3), exactly(60), times * exactly(4000)},
                 Force::kForward, Edition::k2010)
          ->number;
    };
    EXPECT_NEAR(lashings(k).lo, lashings(1).lo, 1e-9);
    const auto parts = [](double times) {
      return (*fewest_parts(times * exactly(20'000), times * exactly(9000)).value()).tackle.parts;
    };
    EXPECT_EQ(parts(k), parts(1));
  }
}

// One more sound lashing never lowers a margin: EN 12195-1 by formula, and a leg of a restraint.
TEST(Adding, OneMoreLashingLowersNoMargin) {
  for (const Edition edition : {Edition::k2003, Edition::k2010}) {
    Interval before{-kNoBound, -kNoBound};
    for (int n = 1; n <= 8; ++n) {
      const auto margin = check_direct_lashing({.mass_kg = {1900, 2100},
                                                .friction = {0.2, 0.4},
                                                .to_deck_deg = {20, 60},
                                                .to_force_deg = {0, 45},
                                                .effective = n},
                                               exactly(10'000), Force::kForward, edition)
                              ->margin;
      EXPECT_GE(margin.lo, before.lo);
      EXPECT_GE(margin.hi, before.hi);
      before = margin;
    }
  }
}

// The printed pairs of 393.110, .128 and .130 are one limit in two units: at a whole step of either
// the same count comes out (5 ft is 1.52 m, 10 ft 3.04 m, 1,100 lb 500 kg as printed).
TEST(UnitSystems, AgreeOnCounts) {
  const auto by = [](double length, double weight, WeightUnit unit) {
    return least_tiedowns_by_length(exactly(length), exactly(weight), false, unit).value();
  };
  for (const auto& [ft, m] : {std::pair{4.0, 1.2},
                              {5.0, 1.52},
                              {6.0, 1.83},
                              {10.0, 3.04},
                              {15.0, 4.57},
                              {20.0, 6.08},
                              {33.0, 10.06}})
    for (const auto& [lb, kg] : {std::pair{1000.0, 454.0}, {1100.0, 500.0}, {2000.0, 907.0}})
      EXPECT_EQ(by(ft, lb, WeightUnit::kLb), by(m, kg, WeightUnit::kKg)) << ft << " ft " << lb;
  for (const auto& [lb, kg] : {std::pair{9000.0, 4082.0}, {10'000.0, 4536.0}, {12'000.0, 5443.0}}) {
    const std::vector<PlacedTiedown> in_lb(4, {strap_of(exactly(5000)), End::kFront});
    const std::vector<PlacedTiedown> in_kg(4, {strap_of(exactly(2268)), End::kFront});
    const auto a = check_vehicle_count(in_lb, exactly(lb), WeightUnit::kLb, VehicleCount::kFour);
    const auto b = check_vehicle_count(in_kg, exactly(kg), WeightUnit::kKg, VehicleCount::kFour);
    ASSERT_EQ(a->size(), b->size());
    for (size_t i = 0; i < a->size(); ++i) EXPECT_EQ((*a)[i].verdict, (*b)[i].verdict) << lb;
  }
}

// Steel strapping and cordage in both printed columns, to the rounding of the smaller one: 5 kg on
// ropes and strapping, as printed (393.108; kg columns from memory).
TEST(UnitSystems, PrintedPairsAgree) {
  for (const auto material :
       {TiedownMaterial::kManila, TiedownMaterial::kPolypropylene, TiedownMaterial::kPolyester,
        TiedownMaterial::kNylon, TiedownMaterial::kDoubleNylon})
    for (const int64_t um : {10'000, 11'000, 13'000, 16'000, 20'000, 25'000}) {
      const auto printed = printed_wll(material, um);
      ASSERT_TRUE(printed);
      EXPECT_NEAR(printed->lb * kKgPerLb, printed->kg, 7.5) << um;
    }
  for (const int64_t um : {740, 890, 1'120, 1'500}) {
    const auto printed = printed_strapping_wll(31'700, um);
    ASSERT_TRUE(printed);
    EXPECT_NEAR(printed->lb * kKgPerLb, printed->kg, 5) << um;
  }
}

}  // namespace
}  // namespace fairlead::physics
