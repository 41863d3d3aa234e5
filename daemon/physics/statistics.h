// Exact intervals for counts and shares, a test of two rates, and u-chart limits.
//
// Formulas: Garwood 1936 (Poisson, through chi-squared quantiles); Wilson 1927, as in the NIST
// e-Handbook 7.2.4.1; Clopper and Pearson 1934 (exact share, same page); conditional binomial test
// of two Poisson rates (Przyborowski and Wilenski 1940); u-chart and p-chart as in the NIST
// e-Handbook 6.3.3.1 and 6.3.3.2, floor 0. Whole charts, EWMA and CUSUM: control_charts.h.
//
// Threads: pure functions. Units: counts are counts; exposure has the caller's unit and the rate
// is per that unit.
#pragma once

#include <cstdint>

#include "daemon/physics/interval.h"

namespace fairlead::physics {

/// Exact two-sided interval of a Poisson mean from one count. lo is 0 for a count of 0.
/// `confidence` lies in (0, 1); anything else gives {0, infinity}: nothing is known.
[[nodiscard]] Interval poisson_interval(uint64_t count, double confidence = 0.95);

/// Wilson score interval of a share. `z` is the normal quantile (1.96 for two-sided 95 %).
/// {0, 1} while `trials` is 0: nothing is known.
[[nodiscard]] Interval wilson_interval(uint64_t hits, uint64_t trials,
                                       double z = 1.959963984540054);

/// Exact (Clopper-Pearson) interval of a share. {0, 1} while `trials` is 0 or fewer than `hits`.
[[nodiscard]] Interval exact_share_interval(uint64_t hits, uint64_t trials,
                                            double confidence = 0.95);

/// Exact two-sided p of "both counts come from one rate"; 1 while both counts or an exposure are 0.
[[nodiscard]] double compare_rates(uint64_t count_a, double exposure_a, uint64_t count_b,
                                   double exposure_b);

/// Three-sigma limits of a u-chart for one sub-group of the given exposure.
[[nodiscard]] Interval u_chart_limits(double mean_rate, double exposure);

/// Three-sigma limits of a p-chart for one sub-group of `trials`, within [0, 1].
[[nodiscard]] Interval p_chart_limits(double mean_share, uint64_t trials);

}  // namespace fairlead::physics
