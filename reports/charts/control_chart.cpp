#include "reports/charts/control_chart.h"

#include <algorithm>
#include <cmath>

#include "reports/charts/plot.h"
#include "reports/charts/svg.h"
#include "reports/text.h"

namespace fairlead::reports {
namespace {

constexpr double kWidth = 340, kHeight = 128, kLeft = 34, kRight = 8, kTop = 16, kBottom = 16;

struct Scale {
  double slots = 1, top = 1;
  [[nodiscard]] double x(double slot) const {
    return kLeft + (slot + 0.5) / slots * (kWidth - kLeft - kRight);
  }
  [[nodiscard]] double y(double rate) const {
    return kHeight - kBottom - rate / top * (kHeight - kTop - kBottom);
  }
};

void draw_axes(Svg& svg, const Scale& scale, const Json& chart) {
  svg.text(0, 9, shortened(chart.at("title"), 50), 8, "start", "font-weight=\"bold\"");
  for (const double at : ticks(0, scale.top)) {
    svg.line(kLeft, scale.y(at), kWidth - kRight, scale.y(at),
             "stroke=\"#ddd\" stroke-width=\"0.4\"");
    svg.text(kLeft - 4, scale.y(at) + 2.5, fixed(at, at == std::floor(at) ? 0 : 1), 7, "end");
  }
  svg.text(kLeft, kHeight - 4, chart.at("first"), 7, "start");
  svg.text(kWidth - kRight, kHeight - 4, chart.at("last"), 7, "end");
  const double centre = scale.y(chart.at("centre"));
  svg.line(kLeft, centre, kWidth - kRight, centre, "stroke=\"#000\" stroke-width=\"0.5\"");
}

}  // namespace

std::string control_chart_svg(const Json& chart) {
  Svg svg(kWidth, kHeight, chart.at("alt"));
  const Scale scale{std::max(1.0, chart.at("slots").get<double>()),
                    std::max(1e-9, chart.at("top").get<double>())};
  draw_axes(svg, scale, chart);
  std::vector<std::pair<double, double>> rates, smooth;
  for (const auto& point : chart.at("points")) {
    const double slot = point.at("slot");
    const double left = scale.x(slot - 0.5), right = scale.x(slot + 0.5);
    for (const char* limit : {"lo", "hi"}) {
      const double y = scale.y(point.at(limit));
      svg.line(left, y, right, y, "stroke=\"#000\" stroke-width=\"0.7\" stroke-dasharray=\"3 2\"");
    }
    rates.emplace_back(scale.x(slot), scale.y(point.at("value")));
    smooth.emplace_back(scale.x(slot), scale.y(std::max(0.0, point.at("smooth").get<double>())));
  }
  svg.polyline(smooth, "stroke=\"#999\" stroke-width=\"1.6\"");
  svg.polyline(rates, "stroke=\"#000\" stroke-width=\"0.7\"");
  size_t i = 0;
  for (const auto& point : chart.at("points")) {
    const auto [x, y] = rates[i++];
    const bool out = point.at("out");
    const double r = out ? 3.2 : 1.6;
    svg.rect(x - r, y - r, 2 * r, 2 * r,
             out ? "fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.2\"" : "fill=\"#000\"");
  }
  return svg.finish();
}

}  // namespace fairlead::reports
