#include "reports/charts/interval_chart.h"

#include <algorithm>

#include "reports/charts/svg.h"

namespace fairlead::reports {

std::string interval_chart_svg(const Json& chart) {
  constexpr double kWidth = 680, kLeft = 190, kRight = 120, kRow = 15;
  const auto rows = static_cast<double>(chart.at("rows").size());
  Svg svg(kWidth, rows * kRow + 20, chart.at("alt"));
  const double x1 = chart.at("x1");
  const auto x = [&](double value) { return kLeft + value / x1 * (kWidth - kLeft - kRight); };
  for (const auto& tick : chart.at("ticks")) {
    const double at = x(tick.at("x"));
    svg.line(at, 0, at, rows * kRow + 3, "stroke=\"#ccc\" stroke-width=\"0.4\"");
    svg.text(at, rows * kRow + 13, tick.at("label"), 8.5, "middle");
  }
  double y = 0;
  for (const auto& row : chart.at("rows")) {
    svg.text(kLeft - 6, y + 10.5, row.at("label"), 8.5, "end");
    svg.rect(x(row.at("good")), y + 3, std::max(1.5, x(row.at("bad")) - x(row.at("good"))), 9,
             "fill=\"#e2e2e2\" stroke=\"#888\" stroke-width=\"0.4\"");
    if (row.at("has_rate").get<bool>()) {
      svg.rect(x(row.at("lo")), y + 6, x(row.at("hi")) - x(row.at("lo")), 3, "fill=\"#000\"");
      svg.rect(x(row.at("rate")) - 1.6, y + 3.5, 3.2, 8, "fill=\"#000\"");
    }
    svg.text(kWidth - kRight + 6, y + 10.5, row.at("text"), 8.5, "start");
    y += kRow;
  }
  return svg.finish();
}

}  // namespace fairlead::reports
