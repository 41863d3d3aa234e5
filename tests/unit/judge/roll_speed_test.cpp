// Speed of a pull along its way: unbiased where the length of a noisy velocity is not, and covered.
// That the mean length of a noisy vector exceeds the true one by about s^2 / (2 v) is Rice's
// (S. O. Rice, "Mathematical analysis of random noise", Bell System Technical Journal 24, 1945).
#include "tests/bench/roll_speed.h"

#include <gtest/gtest.h>

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

}  // namespace
}  // namespace fairlead
