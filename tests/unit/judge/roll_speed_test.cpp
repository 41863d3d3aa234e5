// Speed of a pull along its way: unbiased where the length of a noisy velocity is not, and covered.
// That the mean length of a noisy vector exceeds the true one by about s^2 / (2 v) is Rice's
// (S. O. Rice, "Mathematical analysis of random noise", Bell System Technical Journal 24, 1945).
#include "tests/bench/roll_speed.h"

#include <gtest/gtest.h>

#include <string_view>

#include "daemon/judge/rest_scatter.h"
#include "daemon/physics/speed_along.h"

namespace fairlead {
namespace {

using physics::speeds_along;
using physics::VelocityReading;

TEST(SpeedAlong, IsSignedAndNeedsThreeReadings) {
  std::vector<VelocityReading> readings;
  for (int64_t i = 0; i < 9; ++i) readings.push_back({i * 1'000'000, 0.6, 0.8});
  readings[4] = {4'000'000, -0.3, -0.4};
  const auto along = speeds_along(readings);
  ASSERT_EQ(along.size(), readings.size());
  EXPECT_NEAR(*along[2], 1.0, 1e-12);
  EXPECT_NEAR(*along[4], -0.5, 1e-12);
  EXPECT_FALSE(speeds_along(std::span(readings).first(2))[0]);
}

TEST(SpeedAlong, ReadingsThatCancelSayNothing) {
  const std::vector<VelocityReading> readings{{0, 1, 0}, {1'000'000, -1, 0}, {2'000'000, 0, 0}};
  EXPECT_FALSE(speeds_along(readings)[1]);
}

TEST(RollSpeed, IsCoveredAndLessBiasedThanTheLength) {
  const bench::SpeedSums sums = bench::run_speeds(bench::roll_strata()[0], 0, 200, 1);
  ASSERT_GT(sums.means, 4000);
  EXPECT_NEAR(bench::StratumSums::share(sums.covered_stated, sums.means), 0.95, 0.02);
  EXPECT_LE(bench::StratumSums::share(sums.accused_stated, sums.jobs), 0.08);
  EXPECT_GT(sums.length_off / sums.means, 0.02);
  EXPECT_LT(std::abs(sums.off / sums.means), 0.6 * sums.length_off / sums.means);
}

bench::SpeedSums speeds_of(std::string_view name, int runs) {
  constexpr uint64_t kOtherSeeds = 7'000'000'000;  // Than the table's and the tuning's.
  const auto strata = bench::roll_strata();
  for (size_t i = 0; i < strata.size(); ++i) {
    if (strata[i].name == name) return bench::run_speeds(strata[i], i, runs, kOtherSeeds);
  }
  ADD_FAILURE() << name;
  return {};
}

// Both should be 5 % of the pulls at most; of 1,200 pulls that has a standard error of 0.6 %.
TEST(RollSpeed, AShortPullWhoseWayIsVagueIsNotCleared) {
  const bench::SpeedSums sums = speeds_of("length-2", 600);
  ASSERT_EQ(sums.pulls, 1200);
  EXPECT_LE(bench::StratumSums::share(sums.pulls_cleared, sums.pulls), 0.05);
  EXPECT_LE(bench::StratumSums::share(sums.pulls_accused, sums.pulls), 0.05);
}

TEST(RollSpeed, HeavyTailsThatTheReceiverDoesNotStateAccuseFew) {
  const bench::SpeedSums sums = speeds_of("student-4", 600);
  ASSERT_EQ(sums.pulls, 1200);
  EXPECT_LE(bench::StratumSums::share(sums.pulls_accused, sums.pulls), 0.05);
}

// The root mean square of a component is that of the length over sqrt 2: 3 and 4 mm/s by turns have
// squares of 12.5 on average, and so 2.5 mm/s; 3 alone 2.1213 (rounded up).
TEST(RestScatter, IsTheRootMeanSquareOfOneAxis) {
  judge::RestScatter scatter;
  for (int64_t i = 0; i < 20; ++i) scatter.add(i * 1000, i < 10 ? 3 : 4);
  EXPECT_EQ(scatter.sd_milli(0, 19'000), 2500);
  EXPECT_EQ(scatter.sd_milli(0, 9'000), 2122);
  EXPECT_EQ(scatter.sd_milli(1, 10'000), 2203);  // Nine of 3, one of 4: sqrt(97 / 20).
  EXPECT_EQ(scatter.sd_milli(9'001, 19'000), 2829);
}

TEST(RestScatter, NeedsTenReadings) {
  judge::RestScatter scatter;
  EXPECT_FALSE(scatter.sd_milli(0, 1));
  for (int64_t i = 0; i < 10; ++i) scatter.add(i, 5);
  EXPECT_TRUE(scatter.sd_milli(0, 9));
  EXPECT_FALSE(scatter.sd_milli(1, 9));
  EXPECT_FALSE(scatter.sd_milli(0, 8));
}

}  // namespace
}  // namespace fairlead
