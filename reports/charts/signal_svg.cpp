#include <algorithm>

#include "reports/charts/plot.h"
#include "reports/charts/svg.h"

namespace fairlead::reports {
namespace {

constexpr double kWidth = 680, kLeft = 52, kRight = 20, kTop = 26, kPlotHeight = 118;
constexpr double kSmall = 8.5;

// Maps the plot's own units onto the paper.
struct Frame {
  explicit Frame(const Json& plot) : x1(plot.at("x1")), y0(plot.at("y0")), y1(plot.at("y1")) {}
  [[nodiscard]] double x(double value) const {
    return kLeft + std::clamp(value / x1, 0.0, 1.0) * (kWidth - kLeft - kRight);
  }
  [[nodiscard]] double y(double value) const {
    return kTop + (1 - std::clamp((value - y0) / (y1 - y0), 0.0, 1.0)) * kPlotHeight;
  }
  double x1, y0, y1;
};

void draw_shades(Svg& svg, const Frame& frame, const Json& plot) {
  double label_end = 0;
  for (const auto& shade : plot.at("shades")) {
    const double from = frame.x(shade.at("x0"));
    const double to = frame.x(shade.at("x1"));
    svg.rect(from, kTop, to - from, kPlotHeight, "fill=\"#ececec\"");
    svg.line(from, kTop, from, kTop + kPlotHeight, "stroke=\"#999\" stroke-width=\"0.5\"");
    svg.line(to, kTop, to, kTop + kPlotHeight, "stroke=\"#999\" stroke-width=\"0.5\"");
    const std::string words = shade.at("words");
    const double start = std::min(from, kWidth - kRight - 5 * static_cast<double>(words.size()));
    if (start >= label_end) {
      svg.text(start + 1, kTop - 4, words, kSmall, "start", "font-style=\"italic\"");
      label_end = start + 6 + 5 * static_cast<double>(words.size());
    }
  }
}

void draw_axes(Svg& svg, const Frame& frame, const Json& plot, bool utc_row) {
  const double bottom = kTop + kPlotHeight;
  for (const auto& tick : plot.at("y_ticks")) {
    const double y = frame.y(tick.at("y"));
    svg.line(kLeft, y, kWidth - kRight, y, "stroke=\"#ccc\" stroke-width=\"0.4\"");
    svg.text(kLeft - 4, y + 3, tick.at("label"), kSmall, "end");
  }
  for (const auto& tick : plot.at("x_ticks")) {
    const double x = frame.x(tick.at("x"));
    svg.line(x, bottom, x, bottom + 4, "stroke=\"#000\" stroke-width=\"0.6\"");
    svg.text(x, bottom + 13, tick.at("label"), kSmall, "middle");
    if (utc_row) svg.text(x, bottom + 23, tick.at("utc"), kSmall, "middle", "fill=\"#555\"");
  }
  if (utc_row) svg.text(2, bottom + 23, "UTC", kSmall, "start", "fill=\"#555\"");
  svg.rect(kLeft, kTop, kWidth - kLeft - kRight, kPlotHeight,
           "fill=\"none\" stroke=\"#000\" stroke-width=\"0.7\"");
}

void draw_series(Svg& svg, const Frame& frame, const Json& plot) {
  for (const auto& line : plot.at("lines")) {
    std::vector<std::pair<double, double>> band;
    std::vector<std::pair<double, double>> middle;
    for (const auto& p : line) band.emplace_back(frame.x(p[0]), frame.y(p[3]));
    for (auto p = line.rbegin(); p != line.rend(); ++p) {
      band.emplace_back(frame.x((*p)[0]), frame.y((*p)[2]));
    }
    for (const auto& p : line) {
      // A contact is on or off: it steps, it does not slope.
      if (plot.at("on_off").get<bool>() && !middle.empty()) {
        middle.emplace_back(frame.x(p[0]), middle.back().second);
      }
      middle.emplace_back(frame.x(p[0]), frame.y(p[1]));
    }
    if (!plot.at("on_off").get<bool>()) svg.polygon(band, "fill=\"#bdbdbd\" stroke=\"none\"");
    svg.polyline(middle, "stroke=\"#000\" stroke-width=\"0.9\" stroke-linejoin=\"round\"");
    if (line.size() == 1) {
      svg.rect(middle[0].first - 1, middle[0].second - 1, 2, 2, "fill=\"#000\"");
    }
  }
  for (const auto& hole : plot.at("holes")) {
    const double from = frame.x(hole[0]);
    svg.hatch(from, kTop + kPlotHeight - 8, frame.x(hole[1]) - from, 8);
  }
}

void draw_limits(Svg& svg, const Frame& frame, const Json& plot) {
  double last = -100;
  for (const auto& limit : plot.at("limits")) {
    const double y = frame.y(limit.at("y"));
    svg.line(kLeft, y, kWidth - kRight, y,
             "stroke=\"#000\" stroke-width=\"1.3\" stroke-dasharray=\"7 3\"");
    const double at = y - kTop < 14 ? y + 10 : y - 3;
    if (std::abs(at - last) < 9) continue;
    const std::string words = limit.at("words");
    const double width = 5 * static_cast<double>(words.size());
    svg.rect(kWidth - kRight - 6 - width, at - 8, width + 4, 10, "fill=\"#fff\"");
    svg.text(kWidth - kRight - 4, at, words, kSmall, "end", "font-weight=\"bold\"");
    last = at;
  }
}

void draw_events(Svg& svg, const Frame& frame, const Json& plot) {
  for (const auto& event : plot.at("events")) {
    const double x = frame.x(event.at("x"));
    svg.line(x, kTop - 1, x, kTop + kPlotHeight,
             "stroke=\"#000\" stroke-width=\"0.5\" stroke-dasharray=\"1 2\"");
    svg.text(x, kTop - 15, event.at("label"), kSmall, "middle", "font-weight=\"bold\"");
  }
}

}  // namespace

std::string signal_chart_svg(const Json& chart) {
  const Json& plot = chart.at("plot");
  const bool utc_row = chart.at("utc_row");
  Svg svg(kWidth, kTop + kPlotHeight + (utc_row ? 28 : 18), chart.at("alt"));
  const Frame frame(plot);
  draw_shades(svg, frame, plot);
  draw_axes(svg, frame, plot, utc_row);
  draw_events(svg, frame, plot);
  draw_limits(svg, frame, plot);
  draw_series(svg, frame, plot);  // Over the labels: nothing may hide a reading.
  return svg.finish();
}

}  // namespace fairlead::reports
