#include "daemon/physics/angles.h"

#include <numbers>

namespace fairlead::physics {
namespace {

// In the first quarter turn, where the exact values are.
double sin_quarter(double degrees) {
  if (degrees == 30) return 0.5;
  if (degrees == 90) return 1;
  return std::sin(degrees * std::numbers::pi / 180);
}

}  // namespace

double sin_deg(double degrees) {
  const double turn = std::fmod(degrees, 360);
  const double size = std::abs(turn);
  const double half = size >= 180 ? size - 180 : size;
  const double value = sin_quarter(half > 90 ? 180 - half : half);
  return ((turn < 0) != (size >= 180)) && value != 0 ? -value : value;
}

double cos_deg(double degrees) { return sin_deg(std::fmod(degrees, 360) + 90); }

Interval cos_over(const Interval& degrees) {
  if (!sound(degrees) || std::isinf(degrees.lo) || std::isinf(degrees.hi))
    return exactly(std::numeric_limits<double>::quiet_NaN());
  const double a = cos_deg(degrees.lo), b = cos_deg(degrees.hi);
  Interval all{std::min(a, b), std::max(a, b)};
  const auto holds = [&](double from) {  // from + some whole number of turns
    return from + 360 * std::ceil((degrees.lo - from) / 360) <= degrees.hi;
  };
  if (holds(0)) all.hi = 1;
  if (holds(180)) all.lo = -1;
  return all;
}

Interval sin_over(const Interval& degrees) { return cos_over(degrees - exactly(90)); }

}  // namespace fairlead::physics
