#include "daemon/physics/control_charts.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <string_view>

namespace fairlead::physics {
namespace {

constexpr double kSmallestUsableMean = 5;  // NIST 6.3.3.1.
constexpr double kLargest = 1e100;         // Beyond it sums and limits run over.

bool usable(double value) { return std::abs(value) <= kLargest; }

Status check_all(std::span<const double> values, std::string_view what, bool negative_allowed) {
  if (values.empty()) return fail(Code::kBadInput, fmt::format("{}: none given", what));
  for (size_t i = 0; i < values.size(); ++i) {
    if (!usable(values[i]) || (!negative_allowed && values[i] < 0)) {
      return fail(Code::kBadInput,
                  fmt::format("{}: number {} is {}; give a finite one{}", what, i + 1, values[i],
                              negative_allowed ? "" : " that is not negative"));
    }
  }
  return {};
}

void mark(Chart& chart) {
  for (size_t i = 0; i < chart.points.size(); ++i) {
    ChartPoint& point = chart.points[i];
    point.out = point.value < point.lo || point.value > point.hi;
    if (point.out && !chart.first_out) chart.first_out = i;
  }
}

}  // namespace

Result<Chart> u_chart(std::span<const double> counts, std::span<const double> exposures) {
  if (auto fine = check_all(counts, "counts", false); !fine) return std::unexpected(fine.error());
  if (auto fine = check_all(exposures, "exposures", false); !fine)
    return std::unexpected(fine.error());
  if (counts.size() != exposures.size())
    return fail(Code::kBadInput, "exposures: give one for each count");
  const double all = std::accumulate(exposures.begin(), exposures.end(), 0.0);
  if (std::any_of(exposures.begin(), exposures.end(), [](double n) { return n == 0; }))
    return fail(Code::kBadInput, "exposures: one is 0, so its rate does not exist; leave it out");
  Chart chart;
  chart.centre = std::accumulate(counts.begin(), counts.end(), 0.0) / all;
  for (size_t i = 0; i < counts.size(); ++i) {
    const double spread = 3 * std::sqrt(chart.centre / exposures[i]);
    chart.points.push_back({.value = counts[i] / exposures[i],
                            .lo = std::max(0.0, chart.centre - spread),
                            .hi = chart.centre + spread});
  }
  mark(chart);
  return chart;
}

bool u_chart_usable(const Chart& chart, std::span<const double> exposures) {
  if (exposures.empty()) return false;
  std::vector<double> sorted(exposures.begin(), exposures.end());
  const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
  std::nth_element(sorted.begin(), middle, sorted.end());
  return chart.centre * *middle >= kSmallestUsableMean;
}

Result<Chart> ewma_chart(std::span<const double> values, const EwmaSetting& s) {
  if (auto fine = check_all(values, "values", true); !fine) return std::unexpected(fine.error());
  if (!(s.lambda > 0 && s.lambda <= 1))
    return fail(Code::kBadInput, "lambda: must lie in (0, 1]; 0.2 to 0.3 is usual");
  if (!usable(s.target)) return fail(Code::kBadInput, "target: must be finite");
  if (!(s.sd > 0 && usable(s.sd) && s.k > 0 && usable(s.k)))
    return fail(Code::kBadInput, "sd and k: must be finite and above 0");
  const double spread = s.k * s.sd * std::sqrt(s.lambda / (2 - s.lambda));
  Chart chart{.centre = s.target, .points = {}, .first_out = {}};
  double average = s.target;
  for (const double value : values) {
    average = s.lambda * value + (1 - s.lambda) * average;
    chart.points.push_back({.value = average, .lo = s.target - spread, .hi = s.target + spread});
  }
  mark(chart);
  return chart;
}

Result<Cusum> cusum(std::span<const double> values, const CusumSetting& s) {
  if (auto fine = check_all(values, "values", true); !fine) return std::unexpected(fine.error());
  if (!usable(s.target)) return fail(Code::kBadInput, "target: must be finite");
  if (!(s.k >= 0 && usable(s.k) && s.h > 0 && usable(s.h)))
    return fail(Code::kBadInput, "k must not be negative and h must be above 0, both finite");
  Cusum chart;
  double hi = 0, lo = 0;
  for (const double value : values) {
    hi = std::max(0.0, hi + value - s.target - s.k);
    lo = std::max(0.0, lo + s.target - s.k - value);
    const bool out = hi > s.h || lo > s.h;
    if (out && !chart.first_out) chart.first_out = chart.points.size();
    chart.points.push_back({hi, lo, out});
  }
  return chart;
}

}  // namespace fairlead::physics
