// The plan on the invented fleet. Expected margins are those of the scenario, which follow from its
// masses and ratings: 1.645 s.d. of mass either way, credits as 49 CFR 393.106(d), roll = gap +
// deck travel (common practice, no source).
#include "daemon/plan/plan.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "daemon/judge/shipped.h"
#include "tests/unit/plan/plan_kit.h"

namespace fairlead::plan {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;

TEST(Plan, HauberkOnOw04Fits) {
  const Plan plan = plan_for(fleet(), load_of("hauberk", "OW-04"));
  EXPECT_EQ(plan.fits, Verdict::kMet);
  EXPECT_TRUE(plan.changes.empty());
  EXPECT_NEAR(*check_of(plan, "front_axle").best, 482, 0.5);
  EXPECT_NEAR(*check_of(plan, "rear_axle").best, 962, 0.5);
  EXPECT_NEAR(*check_of(plan, "gvwr").best, 763, 0.5);
  EXPECT_NEAR(*check_of(plan, "deck_length").best, 0, 1e-9);
  EXPECT_NEAR(*check_of(plan, "distance").best, 2.1, 1e-9);
  EXPECT_NEAR(plan.outline.front_kg.value(), 4054, 0.5);
  EXPECT_NEAR(plan.outline.rear_kg.value(), 6976, 0.5);
  // Gross: best 763, and 1.645 x 60 kg either way.
  EXPECT_NEAR(check_of(plan, "gvwr").check.margin.lo, 763 - 98.7, 0.01);
  EXPECT_NEAR(check_of(plan, "gvwr").check.margin.hi, 763 + 98.7, 0.01);
}

// 0.25 m behind the headboard and 5.90 m long on 5.79 m: 0.36 m stand out [C]; shown only.
TEST(Plan, Overhang) {
  const Plan plan = plan_for(fleet(), load_of("hauberk", "OW-09"));
  EXPECT_NEAR(*check_of(plan, "overhang").best, -0.36, 1e-9);
  EXPECT_FALSE(check_of(plan, "overhang").check.decides);
  for (const PlanCheck& check : plan_for(fleet(), load_of("hauberk", "OW-04")).checks)
    EXPECT_NE(check.id, "overhang");
}

// J-102: four wheel straps of 1,512 kg, same side: credit 3,024 of 1,815, +1,209 kg (1,160 to
// 1,258).
TEST(Plan, StrapsAndTheirShares) {
  const Plan plan = plan_for(fleet(), load_of("hauberk", "OW-04"));
  ASSERT_EQ(plan.straps.size(), 4u);
  double credit = 0, share = 0;
  for (const StrapUse& strap : plan.straps) {
    EXPECT_EQ(strap.wll_kg, 1512);
    credit += strap.credit_kg;
    share += strap.share;
  }
  EXPECT_EQ(credit, 3024);
  EXPECT_NEAR(share, 1, 1e-12);
  const PlanCheck& strength = check_of(plan, "strength");
  EXPECT_NEAR(*strength.best, 1209, 1e-9);
  EXPECT_NEAR(strength.check.margin.lo, 1160, 0.5);
  EXPECT_NEAR(strength.check.margin.hi, 1258, 0.5);
}

// J-106: four unmarked 1 3/4 in straps, 790 kg by 49 CFR 393.108: -235 kg (-284 to -186).
TEST(Plan, UnmarkedStrapsAreTooWeak) {
  Request request = load_of("hauberk", "OW-04");
  request.gear = {"plain-45-1", "plain-45-2", "plain-45-3", "plain-45-4"};
  const Plan plan = plan_for(fleet(), request);
  const PlanCheck& strength = check_of(plan, "strength");
  EXPECT_EQ(plan.fits, Verdict::kDeviated);
  EXPECT_NEAR(*strength.best, -235, 1e-9);
  EXPECT_NEAR(strength.check.margin.lo, -284, 0.5);
  EXPECT_NEAR(strength.check.margin.hi, -186, 0.5);
  EXPECT_THAT(plan.changes, Contains(HasSubstr("four tiedowns of 933 kg")));
}

// J-102: drum layer 2 to 3 while 10 m of 25 m come in; the pull of a free-rolling car lies below
// mass g (sin 11 + 0.15 cos 11), the judge's own line, and the peak of 8.9 kN within the range.
TEST(Plan, LineOfTheScenario) {
  const Plan plan = plan_for(fleet(), load_of("hauberk", "OW-04"));
  EXPECT_EQ(plan.line.first_layer, 2);
  EXPECT_EQ(plan.line.last_layer, 3);
  EXPECT_EQ(plan.line.parts, 1);
  EXPECT_TRUE(plan.line.parts_suffice);
  EXPECT_LT(plan.line.rolling_n.lo, 8'900);
  EXPECT_GT(plan.line.rolling_n.hi, 8'900);
  const double a = 11 * std::numbers::pi / 180;
  EXPECT_LT(plan.line.rolling_n.lo, 3630 * 9.80665 * (std::sin(a) + 0.15 * std::cos(a)));
  EXPECT_GT(plan.line.locked_n.lo, plan.line.rolling_n.hi);
  EXPECT_EQ(plan.line.points.size(), 2u);  // Two closed eyes, a soft leg each.
  EXPECT_EQ(plan.line.gear.size(), 2u);
  EXPECT_EQ(check_of(plan, "line").check.verdict, Verdict::kMet);
  EXPECT_EQ(check_of(plan, "leg").check.verdict, Verdict::kMet);
}

// What is not known is unproven, whichever way it is not known.
TEST(Plan, UnknownIsUnproven) {
  const auto book = fleet();
  Request request = load_of("hauberk", "OW-04");
  request.gap_m.reset();
  EXPECT_EQ(check_of(plan_for(book, request), "distance").check.verdict, Verdict::kUnproven);
  request.gap_m = Interval{5.0, 6.0};  // 9.3 to 10.3 m against 10.
  const Plan wide = plan_for(book, request);
  EXPECT_EQ(check_of(wide, "distance").check.verdict, Verdict::kUnproven);
  EXPECT_EQ(wide.fits, Verdict::kUnproven);
  const Plan nobody = plan_for(book, load_of("unknown", "OW-04"));
  EXPECT_EQ(nobody.fits, Verdict::kUnproven);
  for (const char* id : {"gvwr", "line", "leg", "strength", "approach", "deck_length"}) {
    const auto found = std::ranges::find(nobody.checks, id, &PlanCheck::id);
    if (found == nobody.checks.end()) continue;
    EXPECT_EQ(found->check.verdict, Verdict::kUnproven) << id;
  }
  request = load_of("hauberk", "OW-04");
  request.mass_kg = Interval{3000, 5000};
  EXPECT_EQ(check_of(plan_for(book, request), "gvwr").check.verdict, Verdict::kUnproven);
}

// Off the deck nothing is said of where the car would stand on it.
TEST(Plan, WinchOutSpeaksOfThePullOnly) {
  Request request = load_of("hauberk", "OW-04");
  request.mode = Mode::kWinchOut;
  request.surface = "bog";
  const Plan plan = plan_for(fleet(), request);
  EXPECT_TRUE(plan.notes.empty());
  EXPECT_TRUE(plan.straps.empty());
  EXPECT_EQ(std::ranges::find(plan.checks, "deck_length", &PlanCheck::id), plan.checks.end());
  // Half the weight in a bog (secondary source): m g / 2 = 17.8 kN of 3,630 kg, on the line's tag.
  EXPECT_NEAR((plan.line.rolling_n.lo + plan.line.rolling_n.hi) / 2, 3630 * 9.80665 / 2, 1);
  EXPECT_EQ(check_of(plan, "line").check.verdict, Verdict::kUnproven);
}

// A piece out of date, out of service or with a knot never counts, and the plan says so.
TEST(Plan, GearThatDoesNotCount) {
  Request request = load_of("hauberk", "OW-04");
  request.at_us += 500LL * 86'400'000'000;  // 2028-04: past inspect_by 2027-12-31.
  const Plan late = plan_for(fleet(), request);
  EXPECT_EQ(late.fits, Verdict::kDeviated);
  EXPECT_TRUE(late.straps.empty());
  EXPECT_THAT(late.notes, Contains(HasSubstr("OW-04-strap-LF does not count")));
  const auto book = fleet(
      "gear { id: \"good\" kind: WEBBING width: \"50 mm\" wll: \"1512 kg\" anchor_wll: \"1512 kg\" "
      "}\n"
      "gear { id: \"knotted\" kind: WEBBING width: \"50 mm\" wll: \"1512 kg\" defect: \"knot\" }\n"
      "gear { id: \"gone\" kind: WEBBING width: \"50 mm\" wll: \"1512 kg\" out_of_service: "
      "\"2026-01-01\" }\n"
      "gear { id: \"new\" kind: WEBBING width: \"50 mm\" wll: \"1512 kg\" in_service: "
      "\"2027-01-01\" }\n");
  request = load_of("wrenlet", "OW-04");
  request.gear = {"good", "knotted", "gone", "new"};
  const Plan mixed = plan_for(book, request);
  ASSERT_EQ(mixed.straps.size(), 1u);
  EXPECT_EQ(mixed.straps[0].gear, "good");
  EXPECT_THAT(mixed.notes, Contains(HasSubstr("knotted does not count")));
  EXPECT_THAT(mixed.notes, Contains(HasSubstr("gone does not count")));
  EXPECT_THAT(mixed.notes, Contains(HasSubstr("new does not count")));
}

// A further sound piece never makes the chosen set worse; the weakest set that suffices is taken.
TEST(Plan, SmallestSetOfStraps) {
  std::string more;
  for (int i = 0; i < 6; ++i)
    more += "gear { id: \"s" + std::to_string(i) + "\" kind: WEBBING wll: \"" +
            std::to_string(600 + 150 * i) + " kg\" anchor_wll: \"2000 kg\" }\n";
  const auto book = fleet(more);
  Request request = load_of("hauberk", "OW-04");
  std::optional<double> before;
  for (int i = 0; i < 6; ++i) {
    request.gear.push_back("s" + std::to_string(i));
    const Plan plan = plan_for(book, request);
    const double margin = check_of(plan, "strength").check.margin.lo;
    if (before && *before < 0) {
      EXPECT_GE(margin, *before) << i;
    }
    before = margin;
  }
  // Half of 3,728.7 kg at half credit: the four must sum to 3,728.7. Sums of four of 600, 750 ...
  // 1,350 are 2,400 and multiples of 150 more: the least that reaches it is 3,750.
  const Plan plan = plan_for(book, request);
  ASSERT_EQ(plan.straps.size(), 4u);
  double sum = 0;
  for (const StrapUse& strap : plan.straps) sum += strap.wll_kg;
  EXPECT_EQ(sum, 3750);
  EXPECT_GE(check_of(plan, "strength").check.margin.lo, 0);
}

// Steps and cautions come from the shipped procedures, in order, each caution once.
TEST(Plan, WhatTheProcedureAsks) {
  std::vector<judge::Procedure> procedures;
  for (const std::string& id : procedures_of(Mode::kLoad))
    procedures.push_back(*judge::compile_procedure(*judge::shipped_procedure(id)));
  const auto plan = make_plan(fleet(), procedures, load_of("hauberk", "OW-04"));
  ASSERT_TRUE(plan);
  std::vector<std::string> steps, cautions;
  for (const PlanStep& step : plan->steps) {
    steps.push_back(step.say);
    cautions.insert(cautions.end(), step.cautions.begin(), step.cautions.end());
  }
  const auto taut = std::ranges::find(steps, "Draw the line taut");
  const auto rolling = std::ranges::find(steps, "Car to free-rolling");
  ASSERT_NE(taut, steps.end());
  EXPECT_LT(taut, rolling);
  EXPECT_THAT(cautions, Contains(HasSubstr("Nobody in the line's path")));
  std::ranges::sort(cautions);
  EXPECT_EQ(std::ranges::adjacent_find(cautions), cautions.end());
}

TEST(Plan, RefusesWhatTheRegisterLacks) {
  const auto book = fleet();
  const auto vehicle = make_plan(book, {}, load_of("hauberg", "OW-04"));
  ASSERT_FALSE(vehicle);
  EXPECT_THAT(vehicle.error().message, HasSubstr("the nearest is 'hauberk'"));
  const auto truck = make_plan(book, {}, load_of("hauberk", "OW-4"));
  ASSERT_FALSE(truck);
  EXPECT_THAT(truck.error().message, HasSubstr("the nearest is 'OW-04'"));
  Request request = load_of("hauberk", "OW-04");
  request.surface = "hard rode";
  ASSERT_FALSE(make_plan(book, {}, request));
  request = load_of("hauberk", "OW-04");
  request.gear = {"OW-04-strap-XX"};
  ASSERT_FALSE(make_plan(book, {}, request));
  request = load_of("hauberk", "OW-04");
  request.ground_deg = physics::exactly(std::nan(""));
  EXPECT_FALSE(make_plan(book, {}, request));
  request.ground_deg = physics::exactly(400);
  EXPECT_FALSE(make_plan(book, {}, request));
  request = load_of("hauberk", "OW-04");
  request.mass_kg = physics::exactly(-1);
  EXPECT_FALSE(make_plan(book, {}, request));
}

TEST(ReadRange, Forms) {
  EXPECT_EQ(*read_range("3.6 m", Dimension::kLength), physics::exactly(3.6));
  EXPECT_EQ(*read_range("12 ft", Dimension::kLength), physics::exactly(3.6576));
  EXPECT_EQ(*read_range("11 deg +- 2 deg", Dimension::kAngle), (Interval{9, 13}));
  EXPECT_EQ(*read_range("9 deg to 13 deg", Dimension::kAngle), (Interval{9, 13}));
  EXPECT_EQ(*read_range("1 t", Dimension::kMass), physics::exactly(1000));
  for (const char* bad : {"", "m", "3.6", "3.6 kg", "3 m +- -1 m", "4 m to 3 m", "3 m +-", "nan m"})
    EXPECT_FALSE(read_range(bad, Dimension::kLength)) << bad;
}

}  // namespace
}  // namespace fairlead::plan
