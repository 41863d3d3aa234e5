#include "daemon/physics/statistics.h"

#include <algorithm>
#include <boost/math/distributions/binomial.hpp>
#include <boost/math/distributions/chi_squared.hpp>
#include <cmath>
#include <limits>

namespace fairlead::physics {
namespace {

// Boost.Math answers a domain error with errno and NaN here instead of an exception.
using Quiet = boost::math::policies::policy<
    boost::math::policies::domain_error<boost::math::policies::errno_on_error>,
    boost::math::policies::overflow_error<boost::math::policies::errno_on_error>,
    boost::math::policies::evaluation_error<boost::math::policies::errno_on_error>>;
using ChiSquared = boost::math::chi_squared_distribution<double, Quiet>;
using Binomial = boost::math::binomial_distribution<double, Quiet>;

}  // namespace

Interval poisson_interval(uint64_t count, double confidence) {
  if (!(confidence > 0 && confidence < 1)) return {0, std::numeric_limits<double>::infinity()};
  const double tail = (1 - confidence) / 2;
  const double k = static_cast<double>(count);
  Interval interval;
  if (count > 0) interval.lo = quantile(ChiSquared(2 * k), tail) / 2;
  interval.hi = quantile(ChiSquared(2 * k + 2), 1 - tail) / 2;
  return interval;
}

Interval wilson_interval(uint64_t hits, uint64_t trials, double z) {
  if (trials == 0) return {0, 1};
  const double n = static_cast<double>(trials);
  const double p = static_cast<double>(hits) / n;
  const double middle = p + z * z / (2 * n);
  const double half = z * std::sqrt(p * (1 - p) / n + z * z / (4 * n * n));
  const double scale = 1 + z * z / n;
  return {std::max(0.0, (middle - half) / scale), std::min(1.0, (middle + half) / scale)};
}

Interval exact_share_interval(uint64_t hits, uint64_t trials, double confidence) {
  if (trials == 0 || hits > trials || !(confidence > 0 && confidence < 1)) return {0, 1};
  const double tail = (1 - confidence) / 2;
  const double n = static_cast<double>(trials), k = static_cast<double>(hits);
  Interval share{0, 1};
  if (hits > 0) share.lo = Binomial::find_lower_bound_on_p(n, k, tail);
  if (hits < trials) share.hi = Binomial::find_upper_bound_on_p(n, k, tail);
  return share;
}

double compare_rates(uint64_t count_a, double exposure_a, uint64_t count_b, double exposure_b) {
  const uint64_t total = count_a + count_b;
  if (total == 0 || !(exposure_a > 0) || !(exposure_b > 0)) return 1;
  const Binomial under_one_rate(static_cast<double>(total), exposure_a / (exposure_a + exposure_b));
  const double a = static_cast<double>(count_a);
  const double lower = cdf(under_one_rate, a);
  const double upper = count_a == 0 ? 1 : cdf(complement(under_one_rate, a - 1));
  return std::min(1.0, 2 * std::min(lower, upper));
}

Interval u_chart_limits(double mean_rate, double exposure) {
  if (!(exposure > 0)) return {0, 0};
  const double spread = 3 * std::sqrt(mean_rate / exposure);
  return {std::max(0.0, mean_rate - spread), mean_rate + spread};
}

Interval p_chart_limits(double mean_share, uint64_t trials) {
  if (trials == 0 || !(mean_share >= 0 && mean_share <= 1)) return {0, 1};
  const double spread = 3 * std::sqrt(mean_share * (1 - mean_share) / static_cast<double>(trials));
  return {std::max(0.0, mean_share - spread), std::min(1.0, mean_share + spread)};
}

}  // namespace fairlead::physics
