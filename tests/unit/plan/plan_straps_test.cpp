// Where straps pull, what they hold in each direction, and the rules a base goes by. Expected
// forces are statics of the invented fleet's figures: four wheel straps of 1,512 kg, each with one
// leg that pulls against a movement along the deck.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "daemon/physics/angles.h"
#include "daemon/plan/plan.h"
#include "tests/unit/plan/plan_kit.h"

namespace fairlead::plan {
namespace {

using physics::exactly;
using physics::Jurisdiction;
using ::testing::Contains;
using ::testing::HasSubstr;

const PlanCheck* find(const Plan& plan, const std::string& id) {
  const auto found = std::ranges::find(plan.checks, id, &PlanCheck::id);
  return found == plan.checks.end() ? nullptr : &*found;
}

Request said(double to_deck, double aside) {
  Request request = load_of("hauberk", "OW-04");
  request.strap_deck_deg = exactly(to_deck), request.strap_aside_deg = exactly(aside);
  request.mass_kg = exactly(3630);
  request.friction = exactly(0);
  return request;
}

// 49 CFR 393.102(a)(2): 0.435, 0.5, 0.25 g; (b) 20 % down; shown, as (c) deems them met.
TEST(PlanStraps, HeldInEachDirection) {
  const Plan plan = plan_for(fleet(), said(45, 30));
  const double each = 1512.0 / 3630;  // One strap's limit over the weight.
  const double along = 4 * each * physics::cos_deg(45) * physics::cos_deg(30);
  const double across = 4 * each * physics::cos_deg(45) * 0.5;  // Two legs of two straps.
  EXPECT_NEAR(*check_of(plan, "held.forward").best, along - 0.435, 1e-9);
  EXPECT_NEAR(*check_of(plan, "held.rearward").best, along - 0.5, 1e-9);
  EXPECT_NEAR(*check_of(plan, "held.left").best, across - 0.25, 1e-9);
  EXPECT_NEAR(*check_of(plan, "held.right").best, across - 0.25, 1e-9);
  EXPECT_NEAR(*check_of(plan, "held.down").best, 8 * each * physics::sin_deg(45) - 0.2, 1e-9);
  for (const char* id : {"held.forward", "held.down"})
    EXPECT_FALSE(check_of(plan, id).check.decides);
  EXPECT_EQ(plan.fits, Verdict::kMet);
  EXPECT_EQ(find(plan, "held.breaking.forward"), nullptr);  // No file gives a breaking strength.
}

// (a)(1): 0.8, 0.5, 0.5 g against breaking strength, where the files give it.
TEST(PlanStraps, BreakingStrength) {
  std::string straps;
  Request request = said(45, 30);
  for (const char* wheel : {"LF", "RF", "LR", "RR"}) {
    const std::string id = std::string("b-") + wheel;
    straps += "gear { id: \"" + id +
              "\" kind: WEBBING width: \"50 mm\" wll: \"1512 kg\" anchor_wll: \"9000 kg\" "
              "breaking: \"4536 kg\" }\n";
    request.gear.push_back(id);
  }
  const Plan plan = plan_for(fleet(straps), request);
  // Their anchors' breaking strength is on no file: at least 9,000 kg, so the straps' decides.
  const double along = 4 * 4536.0 / 3630 * physics::cos_deg(45) * physics::cos_deg(30);
  EXPECT_NEAR(check_of(plan, "held.breaking.forward").check.margin.lo, along - 0.8, 1e-9);
  EXPECT_NEAR(check_of(plan, "held.breaking.forward").check.margin.hi, along - 0.8, 1e-9);
}

// EN 12195-1: unproven while nobody says where straps pull, by forces once somebody does; friction
// counts with f_mu 0.75 (2010), 0.7 (2003).
TEST(PlanStraps, Europe) {
  Request request = load_of("cartwell", "OW-03");  // No anchors in its truck file.
  request.jurisdiction = Jurisdiction::kEurope2010;
  const Plan blind = plan_for(fleet(), request);
  EXPECT_EQ(check_of(blind, "strength").check.verdict, Verdict::kUnproven);
  EXPECT_THAT(check_of(blind, "strength").check.words, HasSubstr("--strap-deck"));
  EXPECT_THAT(blind.changes, Contains(HasSubstr("--strap-deck")));
  EXPECT_EQ(blind.rules_title, "EN 12195-1:2010");
  for (const auto& [rules, share] :
       {std::pair{Jurisdiction::kEurope2010, 0.75}, std::pair{Jurisdiction::kEurope2003, 0.7}}) {
    Request seen = said(40, 35);
    seen.jurisdiction = rules;
    seen.friction = exactly(0.4);
    const Plan plan = plan_for(fleet(), seen);
    const double each = 1512.0 / 3630, mu = share * 0.4;
    const double along =
        4 * each * (physics::cos_deg(40) * physics::cos_deg(35) + mu * physics::sin_deg(40)) + mu;
    EXPECT_NEAR(*check_of(plan, "strength.forward").best, along - 0.8, 1e-9);
    EXPECT_TRUE(check_of(plan, "strength.forward").check.decides);
    EXPECT_EQ(check_of(plan, "strength.left").check.verdict, Verdict::kMet);
    EXPECT_EQ(plan.fits, Verdict::kMet) << plan.changes.size();
  }
}

// The truck file's anchors and the car's wheels give a range of directions; what is said goes
// first.
TEST(PlanStraps, FromTheTruckFile) {
  Request request = load_of("hauberk", "OW-04");
  const Plan plan = plan_for(fleet(), request);
  EXPECT_THAT(plan.notes, Contains(HasSubstr("over the wheels to the truck file's anchors")));
  EXPECT_THAT(plan.notes, Contains(HasSubstr("nobody said how the tyres grip")));
  const PlanCheck& forward = check_of(plan, "held.forward");
  // 0.41 m wheel, anchor 0.80 m along and 0.30 m aside: the tangent rises 2 atan(0.41 / 0.80).
  const double steep = 2 * std::atan(0.41 / 0.80), run = 0.80 * std::cos(steep),
               up = 0.80 * std::sin(steep), length = std::hypot(run, up, 0.30);
  const double middle = 4 * 1512.0 / 3630 * run / length - 0.435;
  EXPECT_LT(forward.check.margin.lo, middle);
  EXPECT_GT(forward.check.margin.hi, middle);
  EXPECT_GT(forward.check.margin.lo, middle - 0.2);
  EXPECT_EQ(find(plan_for(fleet(), load_of("hauberk", "OW-03")), "held.forward"), nullptr);
  // Another sound strap holds no less in any direction.
  request.jurisdiction = Jurisdiction::kEurope2010;
  request.friction = Interval{0.3, 0.5};
  const Plan grip = plan_for(fleet(), request);
  EXPECT_EQ(check_of(grip, "strength.forward").check.verdict, Verdict::kMet);
}

TEST(PlanStraps, SmallestSetByForces) {
  Request request = said(60, 20);
  request.jurisdiction = Jurisdiction::kEurope2010;
  const Plan weak = plan_for(fleet(), request);
  EXPECT_EQ(weak.fits, Verdict::kDeviated);
  double kg = 0;
  ASSERT_FALSE(weak.changes.empty());
  ASSERT_EQ(sscanf(weak.changes.front().c_str(), "four tiedowns of %lf kg", &kg), 1)
      << weak.changes.front();
  // That much each holds, a hair less does not: cos 60 cos 20 along, cos 60 sin 20 across.
  const double along = 0.8 * 3630 / (4 * 0.5 * physics::cos_deg(20)),
               across = 0.5 * 3630 / (4 * 0.5 * physics::sin_deg(20));
  EXPECT_EQ(kg, std::ceil(std::max(along, across)));
  request.friction = exactly(2);
  request.strap_deck_deg = exactly(91);
  EXPECT_FALSE(make_plan(fleet(), {}, request));
}

TEST(PlanStraps, TheBaseChoosesTheRules) {
  const auto with = [](const std::string& base) {
    return plan_for(fleet(base), load_of("hauberk", "OW-04"));
  };
  EXPECT_EQ(with("").rules, "us-49cfr");
  EXPECT_THAT(with("").rules_from, HasSubstr("default"));
  const Plan canada = with("base { id: \"b\" rules: \"ca-nsc10\" }\n");
  EXPECT_EQ(canada.rules, "ca-nsc10");
  EXPECT_EQ(canada.rules_from, "the base's register");
  EXPECT_NEAR(*check_of(canada, "strength").best, 1209, 1e-9);
  EXPECT_EQ(find(canada, "bridge"), nullptr);
  Request asked = load_of("hauberk", "OW-04");
  asked.jurisdiction = Jurisdiction::kUnitedStates;
  EXPECT_EQ(plan_for(fleet("base { rules: \"ca-nsc10\" }\n"), asked).rules, "us-49cfr");
  // Two tiedowns a vehicle by one reading of 393.128(b)(1), four by the other.
  const auto count = [](const std::string& base) {
    return check_of(plan_for(fleet(base), load_of("hauberk", "OW-04")), "strength.2").check.need.lo;
  };
  EXPECT_GT(count(""), count("base { tiedowns: 2 }\n"));
}

}  // namespace
}  // namespace fairlead::plan
