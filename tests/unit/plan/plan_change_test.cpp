// The smallest change that would make it fit. Scenario: Hauberk on OW-09 is 0.61 m and 685 kg
// short, and OW-04 would do; the rest follows from the fleet files' figures.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdio>

#include "tests/unit/plan/plan_kit.h"

namespace fairlead::plan {
namespace {

using ::testing::Contains;
using ::testing::StartsWith;
using ::testing::StrEq;

TEST(Change, HauberkOnOw09WantsOw04) {
  const Plan plan = plan_for(fleet(), load_of("hauberk", "OW-09"));
  EXPECT_EQ(plan.fits, Verdict::kDeviated);
  EXPECT_NEAR(*check_of(plan, "deck_length").best, -0.61, 1e-9);
  EXPECT_NEAR(*check_of(plan, "payload").best, -685, 1e-9);
  EXPECT_EQ(check_of(plan, "payload").check.verdict, Verdict::kDeviated);
  ASSERT_EQ(plan.changes.size(), 1u);
  EXPECT_THAT(plan.changes[0],
              StartsWith("take OW-04 instead: deck +0.00 m, gross weight +763 kg"));
}

TEST(Change, BackTheTruckUp) {
  const auto book = fleet();
  Request request = load_of("hauberk", "OW-04");
  request.gap_m = physics::exactly(9.8);  // J-104's 14.1 m.
  const Plan plan = plan_for(book, request);
  EXPECT_EQ(plan.fits, Verdict::kDeviated);
  EXPECT_NEAR(*check_of(plan, "distance").best, -4.1, 1e-9);
  ASSERT_THAT(plan.changes, Contains(StartsWith("back the truck up: at most 5.7 m")));
  request.gap_m = physics::exactly(5.7);
  EXPECT_EQ(plan_for(book, request).fits, Verdict::kMet);  // What it says suffices.
}

// The low hatch touches at 11 degrees; ramps of the slopes named clear it, steeper ones do not.
TEST(Change, RampsForALowCar) {
  const auto book = fleet();
  Request request = load_of("wrenlet", "OW-04");
  request.deck_deg = physics::exactly(14);
  const Plan plan = plan_for(book, request);
  EXPECT_EQ(check_of(plan, "approach").check.verdict, Verdict::kDeviated);
  ASSERT_THAT(plan.changes, Contains(StartsWith("ramps of ")));
  int low = 0, high = 0;
  ASSERT_EQ(sscanf(plan.changes.front().c_str(), "ramps of %d to %d", &low, &high), 2);
  for (const int deg : {low, high}) {
    request.ramp_deg = physics::exactly(deg);
    const Plan again = plan_for(book, request);
    EXPECT_EQ(check_of(again, "approach").check.verdict, Verdict::kMet) << deg;
    EXPECT_EQ(check_of(again, "departure").check.verdict, Verdict::kMet) << deg;
  }
  for (const int deg : {low - 1, high + 1}) {
    request.ramp_deg = physics::exactly(deg);
    const Plan again = plan_for(book, request);
    EXPECT_TRUE(check_of(again, "approach").check.verdict != Verdict::kMet ||
                check_of(again, "departure").check.verdict != Verdict::kMet)
        << deg;
  }
}

// J-102 with locked wheels: the line's tag of 17.8 kN does not carry it, two parts do.
TEST(Change, LockedWheelsWantTwoParts) {
  Request request = load_of("hauberk", "OW-04");
  request.rolls = Rolls::kNo;
  const Plan plan = plan_for(fleet(), request);
  EXPECT_EQ(check_of(plan, "line").check.verdict, Verdict::kDeviated);
  EXPECT_EQ(plan.line.parts, 2);
  EXPECT_THAT(plan.changes, Contains(StartsWith("2 line parts: 1 sheave ")));
  request.rolls = Rolls::kUnknown;
  EXPECT_EQ(check_of(plan_for(fleet(), request), "line").check.verdict, Verdict::kUnproven);
}

// Over the rear axle's rating only: further forward, and there it fits.
TEST(Change, AnotherPlaceOnTheDeck) {
  const auto book = fleet(
      "truck { id: \"T\" gvwr: \"12500 kg\" deck_length: \"8 m\" deck_travel: \"4.3 m\" "
      "deck_ahead: \"4.5 m\" "
      "deck_tilt: \"11 deg\" wheelbase: \"5.2 m\" front_scaled: \"3300 kg\" rear_scaled: \"4100 "
      "kg\" "
      "front_axle_rating: \"4536 kg\" rear_axle_rating: \"7200 kg\" winch { line_rating: \"17.8 "
      "kN\" } }\n");
  Request request = load_of("hauberk", "T");
  request.behind_headboard_m = physics::exactly(1.5);
  const Plan plan = plan_for(book, request);
  EXPECT_EQ(check_of(plan, "rear_axle").check.verdict, Verdict::kDeviated);
  double metres = 0;
  ASSERT_FALSE(plan.changes.empty());
  ASSERT_EQ(sscanf(plan.changes.front().c_str(), "stand the car %lf m further forward", &metres),
            1);
  request.behind_headboard_m = physics::exactly(1.5 - metres);
  const Plan again = plan_for(book, request);
  EXPECT_EQ(check_of(again, "rear_axle").check.verdict, Verdict::kMet);
  EXPECT_EQ(check_of(again, "front_axle").check.verdict, Verdict::kMet);
}

TEST(Change, NobodyTakesIt) {
  Request request = load_of("hauberk", "OW-04");
  request.mass_kg = physics::exactly(9000);
  EXPECT_THAT(plan_for(fleet(), request).changes,
              Contains(StrEq("no truck in the register takes this car")));
}

}  // namespace
}  // namespace fairlead::plan
