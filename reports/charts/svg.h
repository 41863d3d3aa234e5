// Small pieces of SVG with escaped text and coordinates of two decimals.
//
// Threads: values. Units: user units of the drawing (1/96 inch before scaling).
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace fairlead::reports {

class Svg {
 public:
  /// `alt` becomes the drawing's title for screen readers.
  Svg(double width, double height, const std::string& alt);
  void line(double x1, double y1, double x2, double y2, std::string_view style);
  void rect(double x, double y, double width, double height, std::string_view style);
  void polyline(const std::vector<std::pair<double, double>>& points, std::string_view style);
  void polygon(const std::vector<std::pair<double, double>>& points, std::string_view style);
  /// `anchor`: start, middle, end.
  void text(double x, double y, const std::string& words, double size, std::string_view anchor,
            std::string_view style = "");
  /// Slanted lines inside a rectangle, drawn one by one: readable in black and white everywhere.
  void hatch(double x, double y, double width, double height);
  [[nodiscard]] std::string finish() const { return out_ + "</svg>"; }

 private:
  std::string out_;
};

}  // namespace fairlead::reports
