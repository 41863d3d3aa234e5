// Statistics against printed tables. Marks beside each check: [V] read in the source named, [V2]
// read in a secondary source, [M] from memory, [C] computed from the stated formula.
#include "daemon/physics/statistics.h"

#include <gtest/gtest.h>

#include <cmath>

namespace fairlead::physics {
namespace {

struct PoissonRow {
  uint64_t count;
  double lo95, hi95, lo90, hi90;
};

// Garwood 1936, exact Poisson limits [V2: handbook formula; values C by bisection]. k = 0 upper
// 3.689 and k = 10 4.80 to 18.39 [V].
TEST(PoissonInterval, GarwoodTable) {
  const PoissonRow rows[] = {
      {0, 0, 3.6889, 0, 2.9957},
      {1, 0.0253, 5.5716, 0.0513, 4.7439},
      {2, 0.2422, 7.2247, 0.3554, 6.2958},
      {3, 0.6187, 8.7673, 0.8177, 7.7537},
      {4, 1.0899, 10.2416, 1.3663, 9.1535},
      {5, 1.6235, 11.6683, 1.9701, 10.5130},
      {6, 2.2019, 13.0595, 2.6130, 11.8424},
      {8, 3.4538, 15.7632, 3.9808, 14.4346},
      {9, 4.1154, 17.0848, 4.6952, 15.7052},
      {10, 4.7954, 18.3904, 5.4254, 16.9622},
      {20, 12.2165, 30.8884, 13.2547, 29.0620},
      {100, 81.3640, 121.6268, 84.1393, 118.0793},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(row.count);
    EXPECT_NEAR(poisson_interval(row.count).lo, row.lo95, 6e-5);
    EXPECT_NEAR(poisson_interval(row.count).hi, row.hi95, 6e-5);
    EXPECT_NEAR(poisson_interval(row.count, 0.90).lo, row.lo90, 6e-5);
    EXPECT_NEAR(poisson_interval(row.count, 0.90).hi, row.hi90, 6e-5);
  }
}

// NIST/SEMATECH e-Handbook 7.2.4.1: 26 of 200, one-sided 95 % (z = 1.645), lower 0.09577 [V, C].
TEST(WilsonInterval, NistHandbook) {
  EXPECT_NEAR(wilson_interval(26, 200, 1.645).lo, 0.09577, 6e-6);
}

// Newcombe 1998, Table I, method 3, 95 % [V2: five test suites; C agrees].
TEST(WilsonInterval, NewcombeTable) {
  struct Row {
    uint64_t hits, trials;
    double lo, hi;
  };
  const Row rows[] = {{81, 263, 0.2553, 0.3662},
                      {0, 20, 0, 0.1611},
                      {1, 29, 0.0061, 0.1718},
                      {0, 10, 0, 0.2775},
                      {10, 10, 0.7225, 1}};
  for (const auto& row : rows) {
    SCOPED_TRACE(row.hits);
    EXPECT_NEAR(wilson_interval(row.hits, row.trials).lo, row.lo, 6e-5);
    EXPECT_NEAR(wilson_interval(row.hits, row.trials).hi, row.hi, 6e-5);
  }
  EXPECT_EQ(wilson_interval(0, 0).hi, 1);
}

// Clopper-Pearson, NIST e-Handbook 7.2.4.1: 90 % for 4 of 20 is 0.071354 to 0.401029 [V; C gives
// 0.401028]. Ends: 0 of n has lower 0 and upper 1 - (a/2)^(1/n) [C].
TEST(ExactShareInterval, NistHandbook) {
  EXPECT_NEAR(exact_share_interval(4, 20, 0.90).lo, 0.071354, 1e-6);
  EXPECT_NEAR(exact_share_interval(4, 20, 0.90).hi, 0.401029, 1.5e-6);
  EXPECT_EQ(exact_share_interval(0, 10).lo, 0);
  EXPECT_NEAR(exact_share_interval(0, 10).hi, 1 - std::pow(0.025, 0.1), 1e-9);
  EXPECT_EQ(exact_share_interval(10, 10).hi, 1);
  EXPECT_EQ(exact_share_interval(3, 2).lo, 0);
  EXPECT_EQ(exact_share_interval(3, 2).hi, 1);
}

// p-chart, NIST 6.3.3.2: 30 wafers of 50, mean 0.2313 [V2], limits 0.4102 and 0.0524 [M].
TEST(PChart, NistExample) {
  EXPECT_NEAR(p_chart_limits(0.2313, 50).hi, 0.4102, 6e-5);
  EXPECT_NEAR(p_chart_limits(0.2313, 50).lo, 0.0524, 6e-5);
  EXPECT_EQ(p_chart_limits(0.2313, 0).hi, 1);
  EXPECT_EQ(p_chart_limits(std::nan(""), 50).hi, 1);
}

// An interval without a meaning says that nothing is known.
TEST(PoissonInterval, ConfidenceOutOfRange) {
  for (const double confidence : {0.0, 1.0, -1.0, 2.0, std::nan("")}) {
    EXPECT_EQ(poisson_interval(5, confidence).lo, 0);
    EXPECT_TRUE(std::isinf(poisson_interval(5, confidence).hi));
  }
}

// Conditional binomial test, Przyborowski and Wilenski 1940 [M]; 15 against 22 on equal exposure is
// 2 P(X <= 15) of a fair coin thrown 37 times = 0.3240 [C by summing the binomial row].
TEST(CompareRates, ConditionalBinomial) {
  double row = 1;
  double sum = 0;
  double all = 0;
  for (int i = 0; i <= 37; ++i) {
    if (i <= 15) sum += row;
    all += row;
    row = row * (37 - i) / (i + 1);
  }
  EXPECT_NEAR(compare_rates(15, 5000, 22, 5000), 2 * sum / all, 1e-9);
  EXPECT_NEAR(compare_rates(15, 5000, 22, 5000), 0.324, 1e-3);
  EXPECT_EQ(compare_rates(0, 10, 0, 10), 1);
  EXPECT_LT(compare_rates(2, 5000, 40, 5000), 1e-6);
}

// Hand test of a u-chart: counts 2, 3, 1, 4 on 1, 2, 1, 2 units [V2 data, C limits].
TEST(UChart, HandTest) {
  const double mean = 10.0 / 6.0;
  EXPECT_NEAR(mean, 1.6667, 5e-5);
  EXPECT_NEAR(u_chart_limits(mean, 1).hi, 5.5397, 5e-5);
  EXPECT_NEAR(u_chart_limits(mean, 2).hi, 4.4053, 5e-5);
  EXPECT_EQ(u_chart_limits(mean, 2).lo, 0);
}

}  // namespace
}  // namespace fairlead::physics
