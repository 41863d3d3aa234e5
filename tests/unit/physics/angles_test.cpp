// Sine and cosine of degrees against the C library, and exact where the true value is rational
// (Niven's theorem: 0, 1/2 and 1 at multiples of 30 degrees).
#include "daemon/physics/angles.h"

#include <gtest/gtest.h>

#include <numbers>

namespace fairlead::physics {
namespace {

TEST(Angles, AgreeWithTheLibrary) {
  for (double degrees = -800; degrees <= 800; degrees += 0.37) {
    EXPECT_NEAR(sin_deg(degrees), std::sin(degrees * std::numbers::pi / 180), 1e-13) << degrees;
    EXPECT_NEAR(cos_deg(degrees), std::cos(degrees * std::numbers::pi / 180), 1e-13) << degrees;
  }
}

TEST(Angles, ExactWhereTheTrueValueIsRational) {
  const double sines[] = {0, 0.5, NAN, 1, NAN, 0.5, 0, -0.5, NAN, -1, NAN, -0.5};
  for (int i = -24; i < 24; ++i) {
    const double sine = sines[(i % 12 + 12) % 12];
    if (sine != sine) continue;
    EXPECT_EQ(sin_deg(30.0 * i), sine) << 30 * i;
    EXPECT_EQ(cos_deg(30.0 * i - 90), sine) << 30 * i;
  }
}

TEST(Angles, OverAnInterval) {
  for (double lo = -400; lo <= 400; lo += 37) {
    for (const double width : {0.0, 10.0, 90.0, 200.0, 400.0}) {
      const Interval all = cos_over({lo, lo + width}), sines = sin_over({lo, lo + width});
      Interval seen{2, -2}, seen_sines{2, -2};
      for (int i = 0; i <= 4000; ++i) {
        const double at = lo + width * i / 4000;
        seen = {std::min(seen.lo, cos_deg(at)), std::max(seen.hi, cos_deg(at))};
        seen_sines = {std::min(seen_sines.lo, sin_deg(at)), std::max(seen_sines.hi, sin_deg(at))};
      }
      EXPECT_LE(all.lo, seen.lo);
      EXPECT_GE(all.hi, seen.hi);
      EXPECT_NEAR(all.lo, seen.lo, 1e-5);
      EXPECT_NEAR(all.hi, seen.hi, 1e-5);
      EXPECT_NEAR(sines.lo, seen_sines.lo, 1e-5);
      EXPECT_NEAR(sines.hi, seen_sines.hi, 1e-5);
    }
  }
  EXPECT_FALSE(sound(cos_over({0, kNoBound})));
  EXPECT_FALSE(sound(cos_over(exactly(std::numeric_limits<double>::quiet_NaN()))));
}

}  // namespace
}  // namespace fairlead::physics
