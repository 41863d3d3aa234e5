// Cargo securement of 49 CFR 393 and 392.9 against the figures of the rules. Marks beside each
// check: [V] read in the rule's text, [V2] in a secondary source, [M] from memory, [C] computed
// from the stated formula.
#include "daemon/physics/securement.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <utility>
#include <vector>

#include "daemon/physics/default_wll.h"
#include "daemon/physics/securement_defects.h"
#include "daemon/physics/securement_recheck.h"
#include "daemon/physics/securement_wheel.h"
#include "daemon/physics/securement_wll.h"

namespace fairlead::physics {
namespace {

constexpr double kInch = 25.4;

Tiedown tiedown(double wll, Path path, std::optional<double> anchor = std::nullopt) {
  Tiedown one{.name = "strap", .parts = {}, .anchor = {}, .path = path, .legs = {}};
  one.parts.push_back({"strap", exactly(wll), Verdict::kMet, ""});
  if (anchor) one.anchor = Part{"anchor", exactly(*anchor), Verdict::kMet, ""};
  return one;
}

// 393.102(a) [V: rule text reproduced on the agency's page]: g figures of both rows; (b) 20 %.
TEST(Securement, GFigures) {
  EXPECT_EQ(kBreakingNeed.forward, 0.8);
  EXPECT_EQ(kBreakingNeed.rearward, 0.5);
  EXPECT_EQ(kBreakingNeed.sideways, 0.5);
  EXPECT_EQ(kWorkingNeed.forward, 0.435);
  EXPECT_EQ(kWorkingNeed.rearward, 0.5);
  EXPECT_EQ(kWorkingNeed.sideways, 0.25);
  EXPECT_EQ(kDownwardShare, 0.2);
  EXPECT_EQ(kFrictionMat, 0.5);  // 393.108(g) [V2: handbook answer]
}

// 393.106(d) credits [V2: page that restates the paragraph].
TEST(Securement, Credits) {
  EXPECT_EQ(credit_of(Path::kDirect), 0.5);
  EXPECT_EQ(credit_of(Path::kSameSide), 0.5);
  EXPECT_EQ(credit_of(Path::kAcross), 1);
}

// Worked examples of 393.106(d) [C], in pounds: weight, tiedowns, aggregate, verdict.
TEST(Securement, AggregateExamples) {
  const int chain_lb = printed_wll(TiedownMaterial::kChain70, 9'525)->lb;  // 3/8 in, unmarked
  const int web_lb = printed_wll(TiedownMaterial::kWebbing, 50'800)->lb;   // 2 in
  Tiedown out_of_service = tiedown(web_lb, Path::kDirect);
  out_of_service.parts[0].counts = Verdict::kDeviated;
  struct Row {
    double weight_lb;
    std::vector<Tiedown> tiedowns;
    double aggregate_lb;
    Verdict verdict;
  };
  const Tiedown chain = tiedown(chain_lb, Path::kDirect), web = tiedown(web_lb, Path::kDirect);
  const Row rows[] = {
      {9000, {4, chain}, 4 * 3300, Verdict::kMet},
      {5000, {4, web}, 4000, Verdict::kMet},
      {5000, {web, web, web, out_of_service}, 3000, Verdict::kMet},
      {5000, {web, web, out_of_service, out_of_service}, 2000, Verdict::kDeviated},
  };
  for (const Row& row : rows) {
    const auto check = check_aggregate(row.tiedowns, exactly(row.weight_lb), WeightUnit::kLb);
    ASSERT_TRUE(check);
    EXPECT_EQ(check->have, exactly(row.aggregate_lb));
    EXPECT_EQ(check->need, exactly(row.weight_lb / 2));
    EXPECT_EQ(check->verdict, row.verdict);
  }
}

// 393.108(a) [V]: a strap marked 3,333 lb on a 2,000 lb anchor credits 1,000 lb when direct [C].
TEST(Securement, WeakestPart) {
  const Tiedown strap = tiedown(3333, Path::kDirect, 2000);
  EXPECT_EQ(weakest_part(strap).wll, exactly(2000));
  EXPECT_EQ(weakest_part(strap).part, "anchor");
  EXPECT_EQ(aggregate_wll(std::vector{strap}), exactly(1000));
  Tiedown with_ratchet = tiedown(3333, Path::kAcross, 5000);
  with_ratchet.parts.push_back({"ratchet", exactly(1500), Verdict::kMet, ""});
  EXPECT_EQ(weakest_part(with_ratchet).part, "ratchet");
  EXPECT_EQ(aggregate_wll(std::vector{with_ratchet}), exactly(1500));
}

// Out-of-service sizes of webbing [V2: training deck]: width in, largest damage in.
TEST(Securement, WebbingDamage) {
  struct Row {
    double width_in, limit_in;
  };
  for (const Row& row : {Row{1.75, 3.0 / 8}, {2, 3.0 / 8}, {3, 5.0 / 8}, {4, 3.0 / 4}}) {
    const double width = row.width_in * kInch, limit = row.limit_in * kInch;
    EXPECT_DOUBLE_EQ(webbing_damage_limit_mm(width).value(), limit);
    EXPECT_EQ(check_webbing_damage(width, exactly(limit))->verdict, Verdict::kMet);
    EXPECT_EQ(check_webbing_damage(width, exactly(limit + 0.1))->verdict, Verdict::kDeviated);
    EXPECT_EQ(check_webbing_damage(width, {limit - 1, limit + 1})->verdict, Verdict::kUnproven);
  }
  EXPECT_FALSE(webbing_damage_limit_mm(25.4));
  EXPECT_EQ(check_webbing_damage(25.4, exactly(3))->verdict, Verdict::kUnproven);
  EXPECT_EQ(check_webbing_damage(25.4, exactly(0))->verdict, Verdict::kMet);
}

// 393.104(b) [V], (f)(1) [V2; paragraph M]; burns, stitches, fittings as 29 CFR 1910.184(i)(9) [V;
// "distortion of fittings" M], for tiedowns common practice.
TEST(Securement, Defects) {
  for (const char* text :
       {"knot", "Knotted near the hook", "cracked link", "melted", "charred", "acid burn",
        "broken stitches", "stitches worn", "distorted fitting", "scuffed, knot"})
    EXPECT_EQ(judge_defect(text, 50).counts, Verdict::kDeviated) << text;
  EXPECT_EQ(judge_defect("", 50).counts, Verdict::kMet);
  EXPECT_EQ(judge_defect("cut 9 mm", 50).counts, Verdict::kMet);
  EXPECT_EQ(judge_defect("cut 12 mm", 50).counts, Verdict::kDeviated);
  EXPECT_EQ(judge_defect("cut 12 mm", 75).counts, Verdict::kMet);
  EXPECT_EQ(judge_defect("tear 0.5 in; hole 1 mm", 50).counts, Verdict::kDeviated);
  EXPECT_EQ(judge_defect("cut", 50).counts, Verdict::kUnproven);
  EXPECT_EQ(judge_defect("cut 3 mm", 0).counts, Verdict::kDeviated);
  EXPECT_EQ(judge_defect("scuffed", 50).counts, Verdict::kUnproven);
  EXPECT_NE(judge_defect("knot", 50).why.find("393.104(f)(1)"), std::string::npos);
}

// 393.110 [V2: three transcriptions; metric M] with its examples [C], in feet and pounds.
TEST(Securement, TiedownsByLength) {
  struct Row {
    double feet, lb;
    bool blocked;
    double least;
  };
  const Row rows[] = {{4 + 7.0 / 12, 900, false, 1},
                      {5, 1100, false, 1},
                      {5, 1101, false, 2},
                      {10, 5000, false, 2},
                      {10 + 1.0 / 12, 900, false, 3},
                      {20, 900, false, 3},
                      {20.01, 900, false, 4},
                      {16, 900, true, 2},
                      {10, 900, true, 1},
                      {3, 900, true, 1}};
  for (const Row& row : rows) {
    const auto least =
        least_tiedowns_by_length(exactly(row.feet), exactly(row.lb), row.blocked, WeightUnit::kLb);
    ASSERT_TRUE(least);
    EXPECT_EQ(*least, exactly(row.least)) << row.feet;
  }
  const auto metric = [](double m, double kg) {
    return least_tiedowns_by_length(exactly(m), exactly(kg), false, WeightUnit::kKg).value();
  };
  EXPECT_EQ(metric(1.52, 500), exactly(1));
  EXPECT_EQ(metric(1.52, 501), exactly(2));
  EXPECT_EQ(metric(3.04, 501), exactly(2));
  EXPECT_EQ(metric(6.08, 501), exactly(3));
  EXPECT_EQ(metric(6.09, 501), exactly(4));
  EXPECT_EQ(least_tiedowns_by_length({9, 11}, exactly(900), false, WeightUnit::kLb).value(),
            (Interval{2, 3}));
}

std::vector<PlacedTiedown> four(double wll) {
  const Tiedown one = tiedown(wll, Path::kSameSide);
  return {{one, End::kFront}, {one, End::kFront}, {one, End::kRear}, {one, End::kRear}};
}

// 393.128: scope 4,536 kg (10,000 lb) [V2]; two at the front and two at the rear as the drivers'
// handbook words it [V], or two in all as the rule is commonly read [M].
// 393.130: at least four, each of 2,268 kg (5,000 lb) [V: handbook ch. 10 and quiz].
TEST(Securement, VehicleCounts) {
  EXPECT_EQ(light_vehicle_limit(WeightUnit::kKg), 4536);
  EXPECT_EQ(light_vehicle_limit(WeightUnit::kLb), 10'000);
  EXPECT_EQ(heavy_tiedown_wll(WeightUnit::kKg), 2268);
  EXPECT_EQ(heavy_tiedown_wll(WeightUnit::kLb), 5000);
  const auto verdict = [](const std::vector<PlacedTiedown>& placed, Interval kg,
                          VehicleCount count = VehicleCount::kFour) {
    return worst_of(check_vehicle_count(placed, kg, WeightUnit::kKg, count).value());
  };
  EXPECT_EQ(verdict(four(1512), exactly(3630)), Verdict::kMet);
  const auto all = four(1512);
  const std::vector<PlacedTiedown> two{all[0], all[2]}, front{all[0], all[1], all[0], all[1]};
  EXPECT_EQ(verdict(two, exactly(3630)), Verdict::kDeviated);
  EXPECT_EQ(verdict(two, exactly(3630), VehicleCount::kTwo), Verdict::kMet);
  EXPECT_EQ(verdict(front, exactly(3630)), Verdict::kDeviated);
  EXPECT_EQ(verdict(four(1512), exactly(4537)), Verdict::kDeviated);
  EXPECT_EQ(verdict(four(2268), exactly(4537)), Verdict::kMet);
  EXPECT_EQ(verdict(four(2267), exactly(4537)), Verdict::kDeviated);
  EXPECT_EQ(verdict(four(1512), {4500, 4600}), Verdict::kUnproven);
  EXPECT_EQ(verdict(four(2268), {4500, 4600}), Verdict::kMet);
  EXPECT_EQ(verdict({}, exactly(1000)), Verdict::kDeviated);
}

// 392.9(b) [V2: compliance page and commercial driver manual] with its events [C].
TEST(Securement, LookAgain) {
  const auto worst = [](const LookDue& due, double miles, double hours, bool duty) {
    return worst_of(check_look(due, exactly(miles * kKmPerMile), exactly(hours), duty).value());
  };
  const LookDue first = next_look(false, 0, 0);
  EXPECT_EQ(worst(first, 49.9, 9, true), Verdict::kMet);
  EXPECT_EQ(worst(first, 50, 9, true), Verdict::kMet);
  EXPECT_EQ(worst(first, 50.1, 0.5, false), Verdict::kDeviated);
  const LookDue later = next_look(true, 40 * kKmPerMile, 1);
  EXPECT_DOUBLE_EQ(later.at_km, 190 * kKmPerMile);
  EXPECT_EQ(later.at_hours, 4);
  EXPECT_EQ(worst(later, 189.9, 3.9, false), Verdict::kMet);
  EXPECT_EQ(worst(later, 190.1, 3.9, false), Verdict::kDeviated);
  EXPECT_EQ(worst(later, 100, 4.1, false), Verdict::kDeviated);
  EXPECT_EQ(worst(later, 41, 1.1, true), Verdict::kDeviated);
  EXPECT_EQ(worst_of(check_look(later, {305, 306.5}, exactly(2), false).value()),
            Verdict::kUnproven);
}

// Jurisdictions by the name a base's settings use. The scenario's car on the scenario's truck:
// 4 straps of 1,512 kg SAME_SIDE under 3,630 kg, s.d. 60: +1,209 kg (1,160 to 1,258).
TEST(Securement, ByJurisdiction) {
  EXPECT_EQ(jurisdiction_named("us-49cfr").value(), Jurisdiction::kUnitedStates);
  EXPECT_FALSE(jurisdiction_named("mars"));
  VehicleLoad load{.weight = plus_minus(3630, 1.645 * 60), .tiedowns = four(1512)};
  for (const Jurisdiction one : {Jurisdiction::kUnitedStates, Jurisdiction::kCanada}) {
    const auto checks = check_securement(load, one).value();
    EXPECT_EQ(worst_of(checks), Verdict::kMet);
    EXPECT_NEAR(checks[0].margin.lo, 1160, 0.5);
    EXPECT_NEAR(checks[0].margin.hi, 1258, 0.5);
  }
  const auto europe = check_securement(load, Jurisdiction::kEurope2010).value();
  EXPECT_EQ(worst_of(europe), Verdict::kUnproven);  // Nobody says where the straps pull.
  EXPECT_NE(europe[0].origin.find("2010"), std::string::npos);
}

// A strap over a wheel [C: plane geometry]: the straight length from the anchor just touches the
// wheel, and beside the tread it turns outward by atan(aside / run).
TEST(Securement, StrapOverAWheel) {
  for (const double radius : {0.3, 0.41}) {
    EXPECT_EQ(strap_over_wheel(exactly(radius), exactly(radius), exactly(0))->to_deck_deg,
              exactly(90));
    for (const double reach : {0.6, 0.8, 1.5}) {
      const auto way = strap_over_wheel(exactly(radius), exactly(reach), exactly(0)).value();
      const double a = way.to_deck_deg.lo * std::numbers::pi / 180;
      // Distance of the wheel's middle (reach ahead, radius up) from the line through the anchor.
      EXPECT_NEAR(std::abs(reach * std::sin(a) - radius * std::cos(a)), radius, 1e-12) << reach;
      EXPECT_EQ(way.aside_deg, exactly(0));
      const auto aside = strap_over_wheel(exactly(radius), exactly(reach), exactly(0.3)).value();
      EXPECT_LT(aside.to_deck_deg.lo, way.to_deck_deg.lo);
      EXPECT_NEAR(std::tan(aside.aside_deg.lo * std::numbers::pi / 180) * reach * std::cos(a), 0.3,
                  1e-12);
    }
  }
  // Vague inputs: never narrower than any choice within them.
  const auto wide = strap_over_wheel({0.38, 0.42}, {0.7, 0.9}, {0.2, 0.4}).value();
  for (const double radius : {0.38, 0.4, 0.42})
    for (const double reach : {0.7, 0.8, 0.9})
      for (const double out : {0.2, 0.3, 0.4}) {
        const auto one = strap_over_wheel(exactly(radius), exactly(reach), exactly(out)).value();
        EXPECT_GE(one.to_deck_deg.lo, wide.to_deck_deg.lo);
        EXPECT_LE(one.to_deck_deg.hi, wide.to_deck_deg.hi);
        EXPECT_GE(one.aside_deg.lo, wide.aside_deg.lo);
        EXPECT_LE(one.aside_deg.hi, wide.aside_deg.hi);
      }
  EXPECT_FALSE(strap_over_wheel(exactly(0.41), exactly(0.40), exactly(0)));  // Under the tyre.
  EXPECT_FALSE(strap_over_wheel(exactly(0.41), exactly(0.8), exactly(-0.1)));
  const auto legs = wheel_strap_legs({exactly(50), exactly(20)}, Side::kRight).value();
  EXPECT_EQ(legs[0].to_front_deg, exactly(-20));
  EXPECT_EQ(legs[1].to_front_deg, exactly(-160));
  EXPECT_FALSE(wheel_strap_legs({exactly(91), exactly(20)}, Side::kLeft));
}

}  // namespace
}  // namespace fairlead::physics
