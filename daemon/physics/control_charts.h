// Control charts for the insurer's quarter: u-chart, EWMA and CUSUM. A chart says when to look, not
// why; points outside by chance are to be expected (about 1 in 370 at three sigma).
//
// Formulas: NIST/SEMATECH e-Handbook 6.3.3.1 (counts; the u-chart is the c-chart with unequal
// exposure, for which NIST prints no worked example), 6.3.2.4 (EWMA), 6.3.2.3 (CUSUM).
//
// Threads: pure functions. Units: the caller's; exposure in the unit the rate is wanted per.
// Errors: kBadInput for NaN, infinite, huge (over 1e100), negative or empty input, naming what is
// wrong.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "daemon/base/result.h"

namespace fairlead::physics {

struct ChartPoint {
  double value = 0;
  double lo = 0, hi = 0;  // Limits at this point.
  bool out = false;       // Beyond a limit; on it is inside.
};

struct Chart {
  double centre = 0;
  std::vector<ChartPoint> points;
  std::optional<size_t> first_out;
};

/// Counts per unit of exposure with three-sigma limits, the lower one not below 0. The normal
/// limits want a mean of about 5 or more, and a lower limit is of use from about 9 (NIST); `usable`
/// below.
[[nodiscard]] Result<Chart> u_chart(std::span<const double> counts,
                                    std::span<const double> exposures);
/// False where the mean count of a typical group is below 5: read the exact interval instead.
[[nodiscard]] bool u_chart_usable(const Chart& chart, std::span<const double> exposures);

struct EwmaSetting {
  double target = 0;
  double sd = 0;        // Of one value, in control.
  double lambda = 0.3;  // Weight of the newest value, in (0, 1].
  double k = 3;         // Limits in standard deviations.
};
/// Exponentially weighted moving average with NIST's steady limits
/// target -+ k sd sqrt(lambda / (2 - lambda)).
[[nodiscard]] Result<Chart> ewma_chart(std::span<const double> values, const EwmaSetting& setting);

struct CusumSetting {
  double target = 0;
  double k = 0;  // Allowance: half the shift worth seeing, in the values' unit.
  double h = 0;  // Decision limit, in the values' unit.
};
struct CusumPoint {
  double hi = 0, lo = 0;  // Both sums grow upward from 0.
  bool out = false;
};
struct Cusum {
  std::vector<CusumPoint> points;
  std::optional<size_t> first_out;
};
[[nodiscard]] Result<Cusum> cusum(std::span<const double> values, const CusumSetting& setting);

}  // namespace fairlead::physics
