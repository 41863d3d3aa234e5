// Control charts against the NIST/SEMATECH e-Handbook's own examples. Marks beside each check: [V]
// read in the source named, [V2] read in a secondary source, [M] from memory, [C] computed from the
// stated formula.
#include "daemon/physics/control_charts.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

namespace fairlead::physics {
namespace {

// NIST 6.3.3.1, defects on 25 wafers: centre 16, UCL 28, LCL 4 [V2]; data [M], their sum 400 and
// number 25 agree [C]; wafer 24 with 31 is out.
TEST(UChart, NistWafers) {
  const std::vector<double> counts{16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14,
                                   16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13};
  const std::vector<double> one(counts.size(), 1);
  const auto chart = u_chart(counts, one);
  ASSERT_TRUE(chart);
  EXPECT_DOUBLE_EQ(chart->centre, 16);
  EXPECT_DOUBLE_EQ(chart->points[0].hi, 28);
  EXPECT_DOUBLE_EQ(chart->points[0].lo, 4);
  ASSERT_TRUE(chart->first_out);
  EXPECT_EQ(*chart->first_out, 23u);
  EXPECT_EQ(std::count_if(chart->points.begin(), chart->points.end(),
                          [](const ChartPoint& p) { return p.out; }),
            1);  // 28 lies on the limit: inside.
  EXPECT_TRUE(u_chart_usable(*chart, one));
}

// NIST prints no u-chart. Hand test: counts 2, 3, 1, 4 on 1, 2, 1, 2 units [V2 data, C limits].
TEST(UChart, UnequalExposure) {
  const std::vector<double> counts{2, 3, 1, 4}, units{1, 2, 1, 2};
  const auto chart = u_chart(counts, units);
  ASSERT_TRUE(chart);
  EXPECT_NEAR(chart->centre, 1.6667, 5e-5);
  EXPECT_NEAR(chart->points[0].hi, 5.5397, 5e-5);
  EXPECT_NEAR(chart->points[1].hi, 4.4053, 5e-5);
  for (const ChartPoint& point : chart->points) EXPECT_EQ(point.lo, 0);
  EXPECT_FALSE(chart->first_out);
  EXPECT_FALSE(u_chart_usable(*chart, units));
}

// NIST 6.3.2.4 [V: a test file quoting the page; C reproduces]. The limits computed with the exact
// factor are 52.5884 and 47.4116 where the page rounds the factor: tolerance 1e-3.
TEST(Ewma, NistExample) {
  const std::vector<double> values{52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
                                   49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
  const std::vector<double> printed{50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75,
                                    49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
                                    49.38, 49.92, 50.73, 51.23, 51.94, 51.99};
  const auto chart = ewma_chart(values, {.target = 50, .sd = 2.0539, .lambda = 0.3, .k = 3});
  ASSERT_TRUE(chart);
  for (size_t i = 0; i < printed.size(); ++i) {
    EXPECT_NEAR(chart->points[i].value, printed[i], 5.1e-3) << i;
    EXPECT_NEAR(chart->points[i].hi, 52.5884, 1e-3);
    EXPECT_NEAR(chart->points[i].lo, 47.4115, 1e-3);
  }
  EXPECT_FALSE(chart->first_out);  // None out [V].
}

// NIST 6.3.2.3: formula [V], data [M], sums [C, agree with the remembered table].
TEST(CusumChart, NistExample) {
  const std::vector<double> values{324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125,
                                   324.525, 325.225, 324.600, 324.625, 325.150, 328.325, 327.250,
                                   327.825, 328.500, 326.675, 327.775, 326.875, 328.350};
  const auto chart = cusum(values, {.target = 325, .k = 0.3175, .h = 4.1959});
  ASSERT_TRUE(chart);
  const std::vector<double> hi{3.007, 4.940, 7.447, 10.630, 11.988, 14.445, 16.002, 19.035};
  for (size_t i = 0; i < hi.size(); ++i) EXPECT_NEAR(chart->points[12 + i].hi, hi[i], 1e-3) << i;
  ASSERT_TRUE(chart->first_out);
  EXPECT_EQ(*chart->first_out, 13u);  // Value 14: 4.940 is the first beyond h.
  const auto most = std::max_element(chart->points.begin(), chart->points.end(),
                                     [](const auto& a, const auto& b) { return a.lo < b.lo; });
  EXPECT_NEAR(most->lo, 0.715, 1e-3);
  EXPECT_EQ(most - chart->points.begin(), 7);
}

// Mean time to a false alarm of a two-sided CUSUM, k 0.5 standard deviations: about 465 values at
// h 5, 168 at h 4 [V2: Montgomery, after Lucas; not NIST]. 1,500 runs each: 2.6 % of counting
// error, three of which are allowed.
TEST(CusumChart, FalseAlarmsComeAsOftenAsPublished) {
  std::mt19937_64 random(20261129);
  std::normal_distribution<double> normal;
  for (const auto& [h, expected] : {std::pair{5.0, 465.0}, {4.0, 168.0}}) {
    constexpr int kRuns = 1500;
    double sum = 0;
    std::vector<double> values(static_cast<size_t>(expected * 12));
    for (int run = 0; run < kRuns; ++run) {
      for (double& value : values) value = normal(random);
      const auto chart = cusum(values, {.target = 0, .k = 0.5, .h = h});
      ASSERT_TRUE(chart);
      sum += static_cast<double>(chart->first_out.value_or(values.size() - 1) + 1);
    }
    EXPECT_NEAR(sum / kRuns, expected, 3 * expected / std::sqrt(1.0 * kRuns)) << h;
  }
}

// Scaling every value, limit and standard deviation by k scales the sums by k.
TEST(CusumChart, ScalesWithItsUnit) {
  const std::vector<double> values{1, 2, -1, 3, 4}, grams{1000, 2000, -1000, 3000, 4000};
  const auto a = cusum(values, {.target = 0.5, .k = 0.25, .h = 2});
  const auto b = cusum(grams, {.target = 500, .k = 250, .h = 2000});
  ASSERT_TRUE(a && b);
  EXPECT_EQ(a->first_out, b->first_out);
  for (size_t i = 0; i < values.size(); ++i)
    EXPECT_NEAR(a->points[i].hi * 1000, b->points[i].hi, 1e-9);
}

TEST(Charts, RefuseWhatHasNoAnswer) {
  const double nan = std::nan(""), inf = std::numeric_limits<double>::infinity();
  const std::vector<double> good{1, 2}, none, with_nan{1, nan}, negative{1, -2}, zero{1, 0};
  EXPECT_FALSE(u_chart(none, none));
  EXPECT_FALSE(u_chart(with_nan, good));
  EXPECT_FALSE(u_chart(negative, good));
  EXPECT_FALSE(u_chart(good, zero));
  EXPECT_FALSE(u_chart(good, std::vector<double>{1}));
  EXPECT_FALSE(ewma_chart(with_nan, {.target = 0, .sd = 1}));
  EXPECT_FALSE(ewma_chart(good, {.target = 0, .sd = 0}));
  EXPECT_FALSE(ewma_chart(good, {.target = 0, .sd = 1, .lambda = 0}));
  EXPECT_FALSE(ewma_chart(good, {.target = inf, .sd = 1}));
  EXPECT_FALSE(cusum(good, {.target = 0, .k = -1, .h = 1}));
  EXPECT_FALSE(cusum(good, {.target = 0, .k = 0, .h = 0}));
  EXPECT_TRUE(u_chart(std::vector<double>{0, 0}, good));  // Nothing happened: rate 0, limits 0.
}

}  // namespace
}  // namespace fairlead::physics
