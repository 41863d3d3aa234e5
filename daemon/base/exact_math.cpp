#include "daemon/base/exact_math.h"

#include <cmath>

namespace fairlead {
namespace {

constexpr double kLn2 = 0.693147180559945309417232121458;
constexpr double kPi = 3.14159265358979323846264338328;
constexpr double kInvSqrt2Pi = 0.398942280401432677939946059934;

// The series below end where a term no longer changes the sum: the later ones are far smaller, so
// the bits are those of the whole series.
double taylor_sin(double x) {
  double term = x, sum = x;
  for (int k = 1; k < 14; ++k) {
    term = -term * x * x / ((2.0 * k) * (2.0 * k + 1.0));
    if (sum + term == sum) break;
    sum = sum + term;
  }
  return sum;
}

}  // namespace

double exact_exp(double x) {
  if (x < -700.0) return 0.0;
  if (x > 700.0) x = 700.0;
  // x = n ln2 + r, |r| <= ln2 / 2; e^r by Taylor, then n doublings or halvings, which are exact.
  const auto n = static_cast<int>(x / kLn2 + (x < 0 ? -0.5 : 0.5));
  const double r = x - n * kLn2;
  double term = 1.0, sum = 1.0;
  for (int k = 1; k < 20; ++k) {
    term = term * r / k;
    if (sum + term == sum) break;
    sum = sum + term;
  }
  for (int i = 0; i < n; ++i) sum = sum * 2.0;
  for (int i = 0; i > n; --i) sum = sum * 0.5;
  return sum;
}

double exact_log(double x) {
  int n = 0;
  while (x > 1.5) {
    x = x * 0.5;
    ++n;
  }
  while (x < 0.75) {
    x = x * 2.0;
    --n;
  }
  // log x = 2 artanh((x - 1) / (x + 1)).
  const double y = (x - 1.0) / (x + 1.0);
  double power = y, sum = y;
  for (int k = 3; k < 40; k += 2) {
    power = power * y * y;
    if (sum + power / k == sum) break;
    sum = sum + power / k;
  }
  return 2.0 * sum + n * kLn2;
}

double exact_sin_deg(double degrees) {
  while (degrees > 180.0) degrees = degrees - 360.0;
  while (degrees < -180.0) degrees = degrees + 360.0;
  if (degrees > 90.0) degrees = 180.0 - degrees;
  if (degrees < -90.0) degrees = -180.0 - degrees;
  return taylor_sin(degrees * kPi / 180.0);
}

double exact_cos_deg(double degrees) { return exact_sin_deg(90.0 - degrees); }

double normal_tail(double z) {
  const double density = kInvSqrt2Pi * exact_exp(-z * z / 2.0);
  if (z < 2.5) {
    double term = z, sum = z;
    for (int k = 1; k < 60; ++k) {
      term = term * z * z / (2.0 * k + 1.0);
      if (sum + term == sum) break;
      sum = sum + term;
    }
    return 0.5 - density * sum;
  }
  double fraction = z;
  for (int k = 120; k >= 1; --k) fraction = z + k / fraction;
  return density / fraction;
}

double normal_cdf(double z) { return z >= 0 ? 1.0 - normal_tail(z) : normal_tail(-z); }

double normal_tail_quantile(double tail) {
  double low = 0.0, high = 38.0;
  for (int i = 0; i < 100; ++i) {
    const double middle = (low + high) / 2.0;
    if (normal_tail(middle) > tail) {
      low = middle;
    } else {
      high = middle;
    }
  }
  return high;
}

}  // namespace fairlead
