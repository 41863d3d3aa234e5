// Short form of the estimator's strata (docs/roll.md has the long one): fixed seeds, few runs, so
// the gates are as wide as so few runs ask for. 95 % of 120 runs have a standard error of 2 %.
#include "tests/bench/roll_strata.h"

#include <gtest/gtest.h>

#include <string_view>

namespace fairlead::bench {
namespace {

size_t index_of(std::string_view name) {
  const auto strata = roll_strata();
  for (size_t i = 0; i < strata.size(); ++i) {
    if (strata[i].name == name) return i;
  }
  ADD_FAILURE() << name;
  return 0;
}

StratumSums short_form(std::string_view name, int runs) {
  const size_t index = index_of(name);
  return run_stratum(roll_strata()[index], index, runs);
}

TEST(RollStrata, DrawnNoiseIsCoveredAndBeatsTheSimpleWays) {
  const StratumSums sums = short_form("drawn", 120);
  ASSERT_EQ(sums.unsolved, 0);
  EXPECT_LE(sums.bare_below + sums.bare_above, 13);    // 89 % or more.
  EXPECT_LE(sums.truth_below + sums.truth_above, 12);  // Allowances only widen.
  const double rmse = sums.root(sums.square);
  EXPECT_LT(std::abs(sums.off / sums.runs), 0.3);
  EXPECT_LT(rmse, 1.15);
  EXPECT_GE(sums.root(sums.sum_square), 90 * rmse);
  EXPECT_GE(sums.root(sums.net_square), 2.6 * rmse);
  EXPECT_GE(sums.root(sums.guarded_square), 2.2 * rmse);
  EXPECT_GE(sums.root(sums.gated_square), rmse);  // Its gate is the motion itself here.
  EXPECT_GE(sums.root(sums.vector_square), rmse);
  EXPECT_EQ(sums.deviated_inside, 0);  // All truths are 8 m, the limit 10.
}

// Where the line is taut before and after the car moves, the speed summed while it pulls is worse.
TEST(RollStrata, ATautLineIsCoveredAndBeatsTheSpeedWhileItPulls) {
  const StratumSums sums = short_form("taut-drawn", 80);
  ASSERT_EQ(sums.unsolved, 0);
  EXPECT_LE(sums.bare_below + sums.bare_above, 10);
  EXPECT_GE(sums.root(sums.gated_square), 1.8 * sums.root(sums.square));
}

// Eight starts and stops: whoever takes a standing car at the end for a slow pull finds the way
// 0.24 m short.
TEST(RollStrata, AStopIsNotTakenForASlowPull) {
  const StratumSums sums = short_form("pulls-4", 400);
  ASSERT_EQ(sums.unsolved, 0);
  EXPECT_LT(std::abs(sums.off / sums.runs), 0.15);  // Its standard error is 0.04 m.
  EXPECT_LE(sums.bare_below + sums.bare_above, 28);
}

// Many fixes a second leave one point of the grid, or two: where that was far off the true noise,
// ranges were 8 % wider and 98 % of truths inside.
TEST(RollStrata, TenFixesASecondMakeNoRangeWider) {
  const StratumSums fast = short_form("rate-10", 150), slow = short_form("centre", 150);
  ASSERT_EQ(fast.unsolved + slow.unsolved, 0);
  EXPECT_LT(fast.width, 0.96 * slow.width);
  EXPECT_LE(fast.bare_below + fast.bare_above, 16);
}

// The line says everything 3 s late: neither short of the truth nor blind to it.
TEST(RollStrata, ALateLineIsCovered) {
  const StratumSums sums = short_form("latency-3", 60);
  EXPECT_LE(sums.bare_below + sums.bare_above, 8);
  EXPECT_LT(std::abs(sums.off / sums.runs), 0.5);
}

// Six runs of each: 240 in all, of which the long form has about 4 % outside.
TEST(RollStrata, NoKindOfJobFallsOut) {
  int runs = 0, outside = 0, wrong = 0;
  for (size_t i = 0; i < roll_strata().size(); ++i) {
    SCOPED_TRACE(roll_strata()[i].name);
    const StratumSums sums = run_stratum(roll_strata()[i], i, 6);
    EXPECT_EQ(sums.unsolved, 0);
    EXPECT_LE(sums.truth_below + sums.truth_above, 2);
    EXPECT_LT(sums.width / sums.runs, 6.0);
    runs += sums.runs;
    outside += sums.truth_below + sums.truth_above;
    wrong += sums.met_outside + sums.deviated_inside;
  }
  EXPECT_LE(outside * 100, runs * 9);
  EXPECT_LE(wrong * 100, runs * 3);
}

}  // namespace
}  // namespace fairlead::bench
