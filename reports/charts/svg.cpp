#include "reports/charts/svg.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "reports/templates/template.h"

namespace fairlead::reports {
namespace {

std::string number(double value) {
  std::string text = fmt::format("{:.2f}", value);
  while (text.back() == '0') text.pop_back();
  if (text.back() == '.') text.pop_back();
  return text == "-0" ? "0" : text;
}

std::string points_text(const std::vector<std::pair<double, double>>& points) {
  std::string out;
  for (const auto& [x, y] : points) out += number(x) + "," + number(y) + " ";
  if (!out.empty()) out.pop_back();
  return out;
}

}  // namespace

Svg::Svg(double width, double height, const std::string& alt) {
  out_ = fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0} {1}\" width=\"{0}\" "
      "height=\"{1}\" role=\"img\" aria-label=\"{2}\"><title>{2}</title>\n",
      number(width), number(height), escape_html(alt));
}

void Svg::line(double x1, double y1, double x2, double y2, std::string_view style) {
  out_ += fmt::format("<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" {}/>\n", number(x1),
                      number(y1), number(x2), number(y2), style);
}

void Svg::rect(double x, double y, double width, double height, std::string_view style) {
  out_ +=
      fmt::format("<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" {}/>\n", number(x), number(y),
                  number(std::max(0.0, width)), number(std::max(0.0, height)), style);
}

void Svg::polyline(const std::vector<std::pair<double, double>>& points, std::string_view style) {
  if (points.empty()) return;
  out_ += fmt::format("<polyline points=\"{}\" fill=\"none\" {}/>\n", points_text(points), style);
}

void Svg::polygon(const std::vector<std::pair<double, double>>& points, std::string_view style) {
  if (points.empty()) return;
  out_ += fmt::format("<polygon points=\"{}\" {}/>\n", points_text(points), style);
}

void Svg::text(double x, double y, const std::string& words, double size, std::string_view anchor,
               std::string_view style) {
  out_ += fmt::format(
      "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{}\" font-family=\"Noto Sans\" {}>{}"
      "</text>\n",
      number(x), number(y), number(size), anchor, style, escape_html(words));
}

void Svg::hatch(double x, double y, double width, double height) {
  constexpr double kStep = 4;
  for (double start = x - height; start < x + width; start += kStep) {
    // A line rising to the right from (start, bottom), cut to the rectangle.
    const double from = std::max(start, x);
    const double to = std::min(start + height, x + width);
    if (to <= from) continue;
    line(from, y + height - (from - start), to, y + height - (to - start),
         "stroke=\"#000\" stroke-width=\"0.6\"");
  }
  rect(x, y, width, height, "fill=\"none\" stroke=\"#000\" stroke-width=\"0.6\"");
}

}  // namespace fairlead::reports
