// The way from a satellite tag: what it takes, what it sets aside, what it allows for.
// That adding up fixes overstates the way, the more the less their errors hang together, is from
// Ranacher, Brunauer, Trutschnig, van der Spek, Reich: "Why GPS makes distances bigger than they
// are", Int. J. Geographical Information Science 30(2), 2016. How often the interval covers the
// truth is in roll_strata_test.cpp.
#include "daemon/physics/roll_tag.h"

#include <gtest/gtest.h>

#include <algorithm>

#include "tests/bench/roll_sim.h"

namespace fairlead::physics {
namespace {

using bench::RollCase;
using bench::RollRun;
using bench::simulate;

TEST(TagWay, SameFixesSameMillimetres) {
  const RollRun run = simulate({}, 3);
  const auto first = tag_way(run.fixes, run.pulls), second = tag_way(run.fixes, run.pulls);
  ASSERT_TRUE(first && second);
  EXPECT_EQ(first->lo_mm, second->lo_mm);
  EXPECT_EQ(first->best_mm, second->best_mm);
  EXPECT_EQ(first->hi_mm, second->hi_mm);
}

TEST(TagWay, AJumpOfOneFixIsSetAsideAndListed) {
  RollRun run = simulate({}, 5);
  const auto clean = tag_way(run.fixes, run.pulls);
  run.fixes[50].east_m += 100;
  const auto jumped = tag_way(run.fixes, run.pulls);
  ASSERT_TRUE(clean && jumped);
  EXPECT_TRUE(std::ranges::find(jumped->set_aside, size_t{50}) != jumped->set_aside.end());
  EXPECT_LT(std::abs(jumped->best_mm - clean->best_mm), 300);
}

// A reflection that comes to stay moves every fix from then on; the car has not moved.
TEST(TagWay, AStepOfTheMultipathInARestIsNoWay) {
  RollRun run = simulate({}, 7);
  const auto clean = tag_way(run.fixes, run.pulls);
  for (size_t i = 52; i < run.fixes.size(); ++i) run.fixes[i].east_m += 12;
  const auto stepped = tag_way(run.fixes, run.pulls);
  ASSERT_TRUE(clean && stepped);
  EXPECT_GE(stepped->set_aside.size(), 2U);
  EXPECT_LE(stepped->set_aside.size(), 6U);
  EXPECT_LT(std::abs(stepped->best_mm - clean->best_mm), 1500);
}

TEST(TagWay, UncountedPullsAddNothing) {
  RollRun run = simulate({}, 9);
  const auto both = tag_way(run.fixes, run.pulls);
  run.pulls[1].counted = false;
  const auto one = tag_way(run.fixes, run.pulls);
  ASSERT_TRUE(both && one);
  EXPECT_NEAR(static_cast<double>(one->best_mm) / 1000, run.truth_m / 2, 2.5);
  EXPECT_LT(one->best_mm, both->best_mm);
  run.pulls[0].counted = false;
  EXPECT_EQ(tag_way(run.fixes, run.pulls)->hi_mm, 0);
}

TEST(TagWay, NeedsRestBeforeAndAfter) {
  const RollRun run = simulate({}, 11);
  const std::span<const TagFix> fixes(run.fixes);
  EXPECT_FALSE(tag_way(fixes.subspan(40), run.pulls));
  EXPECT_FALSE(tag_way(fixes.first(75), run.pulls));
  EXPECT_FALSE(tag_way(fixes.first(2), run.pulls));
  EXPECT_EQ(tag_way(fixes, {})->hi_mm, 0);
}

// An arc of angle a is (a / 2) / sin(a / 2) times its chord: 60 deg 1.04720, 30 deg 1.01152.
TEST(TagWay, ATurnIsAllowedForInTheUpperEndOnly) {
  const RollRun run = simulate({}, 13);
  const auto straight = tag_way(run.fixes, run.pulls, {.turn_deg = 0, .creep = false});
  const auto turned = tag_way(run.fixes, run.pulls, {.turn_deg = 60, .creep = false});
  ASSERT_TRUE(straight && turned);
  EXPECT_EQ(straight->lo_mm, turned->lo_mm);
  EXPECT_EQ(straight->best_mm, turned->best_mm);
  EXPECT_NEAR(static_cast<double>(turned->hi_mm),
              1.0471975512 * static_cast<double>(straight->hi_mm), 2);
}

// 0.8 m of creep, 0.1 m/s for 8 s: allowed for above, not below (the car may as well have stood).
TEST(TagWay, CreepIsAllowedForInTheUpperEndOnly) {
  RollCase still, creeping;
  creeping.creep_mps = 0.1;
  creeping.creep_s = 8;
  still.sd_d = creeping.sd_d = 0.03;
  double allowed = 0, without = 0;
  for (uint64_t seed = 0; seed < 20; ++seed) {
    const RollRun run = simulate(creeping, seed), stood = simulate(still, seed);
    allowed += tag_posterior(run.fixes, run.pulls)->creep_m / 20;
    without += tag_posterior(stood.fixes, stood.pulls)->creep_m / 20;
    EXPECT_EQ(tag_way(run.fixes, run.pulls)->lo_mm,
              tag_way(run.fixes, run.pulls, {.creep = false})->lo_mm);
  }
  EXPECT_NEAR(allowed, 0.8, 0.3);
  EXPECT_LT(without, 0.25);
}

// More pulls than one filter holds are taken apart; the ends add up on the safe side.
TEST(TagWay, ManyPullsAreTakenApart) {
  RollCase many;
  many.pulls = 11;
  many.length_m = 22;
  many.rest_s = 12;
  const RollRun run = simulate(many, 17);
  EXPECT_FALSE(tag_posterior(run.fixes, run.pulls));
  const auto way = tag_way(run.fixes, run.pulls);
  ASSERT_TRUE(way);
  EXPECT_LE(way->lo_mm, 22'000);
  EXPECT_GE(way->hi_mm, 22'000);
  EXPECT_LT(way->hi_mm - way->lo_mm, 22'000);
}

}  // namespace
}  // namespace fairlead::physics
