// Short form of the estimator's strata (docs/roll.md has the long one): fixed seeds, few runs, so
// the gates are as wide as so few runs ask for. 95 % of 120 runs have a standard error of 2 %.
#include "tests/bench/roll_strata.h"

#include <gtest/gtest.h>

namespace fairlead::bench {
namespace {

TEST(RollStrata, DrawnNoiseIsCoveredAndBeatsTheSimpleWays) {
  constexpr size_t kDrawn = 1;
  ASSERT_STREQ(roll_strata()[kDrawn].name, "drawn");
  const StratumSums sums = run_stratum(roll_strata()[kDrawn], kDrawn, 120);
  ASSERT_EQ(sums.unsolved, 0);
  EXPECT_LE(sums.bare_below + sums.bare_above, 13);    // 89 % or more.
  EXPECT_LE(sums.truth_below + sums.truth_above, 12);  // Allowances only widen.
  const double rmse = sums.root(sums.square);
  EXPECT_LT(std::abs(sums.off / sums.runs), 0.4);
  EXPECT_LT(rmse, 1.5);
  EXPECT_GE(sums.root(sums.sum_square), 60 * rmse);
  EXPECT_GE(sums.root(sums.net_square), 2 * rmse);
  EXPECT_GE(sums.root(sums.gated_square), 1.7 * rmse);
  EXPECT_GE(sums.root(sums.vector_square), rmse);
  EXPECT_EQ(sums.deviated_inside, 0);  // All truths are 8 m, the limit 10.
}

// Six runs of each: 186 in all, of which the long form has about 4 % outside.
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
