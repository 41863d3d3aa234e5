// Interval arithmetic against its definition: the result of an operation holds the result for
// every choice of values inside, and its ends are reached (Moore, Kearfott, Cloud, Introduction to
// Interval Analysis, 2009, chapter 2; from memory).
#include "daemon/physics/interval.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace fairlead::physics {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

TEST(Interval, HoldsEveryChoiceAndReachesItsEnds) {
  const Interval values[] = {{-3, -1}, {-2, 5}, {0, 4}, {1, 1}, {2, 7}};
  for (const Interval& a : values) {
    for (const Interval& b : values) {
      Interval product{kNoBound, -kNoBound}, sum = product, difference = product;
      const auto widen = [](Interval& x, double y) { x = {std::min(x.lo, y), std::max(x.hi, y)}; };
      for (int i = 0; i <= 8; ++i) {
        for (int j = 0; j <= 8; ++j) {
          const double x = a.lo + (a.hi - a.lo) * i / 8, y = b.lo + (b.hi - b.lo) * j / 8;
          widen(product, x * y);
          widen(sum, x + y);
          widen(difference, x - y);
        }
      }
      EXPECT_EQ(a * b, product);
      EXPECT_EQ(a + b, sum);
      EXPECT_EQ(a - b, difference);
    }
  }
}

TEST(Interval, Division) {
  EXPECT_EQ((Interval{2, 6} / Interval{2, 4}), (Interval{0.5, 3}));
  EXPECT_EQ((Interval{2, 6} / Interval{-4, -2}), (Interval{-3, -0.5}));
  EXPECT_EQ((Interval{2, 6} / Interval{0, 4}), (Interval{-kNoBound, kNoBound}));
}

TEST(Interval, UnreadRatingKeepsItsKnownEnd) {
  const Interval unread{0, kNoBound};
  EXPECT_EQ(0.5 * unread, unread);
  EXPECT_EQ(unread * Interval({0, 1}), unread);
  EXPECT_EQ(least(unread, exactly(900)), (Interval{0, 900}));
  for (const Interval& bad : {exactly(kNan), Interval{2, 1}}) {
    EXPECT_FALSE(sound(least(bad, exactly(900))));
    EXPECT_FALSE(sound(least(exactly(900), bad)));
    EXPECT_FALSE(sound(greatest(exactly(900), bad)));
  }
}

// An argument that stands twice counts once: x - x is 0, not -1 to 1.
TEST(Interval, CornersAreTight) {
  EXPECT_EQ(over_corners([](double x) { return x - x; }, {0, 1}), exactly(0));
  EXPECT_EQ(
      over_corners([](double x, double y) { return x / (x + y); }, Interval{1, 3}, Interval{1, 2}),
      (Interval{1.0 / 3, 3.0 / 4}));
  EXPECT_FALSE(sound(over_corners([](double x) { return std::sqrt(x); }, {-1, 1})));
}

TEST(Verdict, OfAMargin) {
  EXPECT_EQ(verdict_of({0, 0}), Verdict::kMet);
  EXPECT_EQ(verdict_of({0, kNoBound}), Verdict::kMet);
  EXPECT_EQ(verdict_of({-2, -1e-9}), Verdict::kDeviated);
  EXPECT_EQ(verdict_of({-1, 0}), Verdict::kUnproven);
  EXPECT_EQ(verdict_of({-kNoBound, kNoBound}), Verdict::kUnproven);
  EXPECT_EQ(verdict_of({kNan, kNan}), Verdict::kUnproven);
  EXPECT_EQ(verdict_of({1, kNan}), Verdict::kUnproven);
  EXPECT_EQ(both(Verdict::kMet, Verdict::kUnproven), Verdict::kUnproven);
  EXPECT_EQ(both(Verdict::kDeviated, Verdict::kUnproven), Verdict::kDeviated);
  EXPECT_EQ(either(Verdict::kDeviated, Verdict::kUnproven), Verdict::kUnproven);
}

TEST(CheckInput, RefusesWhatNoFormulaHoldsFor) {
  const Interval angle{0, 90};
  EXPECT_TRUE(check_input("angle_deg", {0, 90}, angle));
  EXPECT_FALSE(check_input("angle_deg", {-1, 20}, angle));
  EXPECT_FALSE(check_input("angle_deg", {20, 91}, angle));
  EXPECT_FALSE(check_input("angle_deg", {30, 20}, angle));
  EXPECT_FALSE(check_input("angle_deg", exactly(kNan), angle));
  EXPECT_FALSE(check_input("wll_kg", {0, kNoBound}, {0, 1e6}));
  const auto refused = check_input("mass_kg", exactly(-1), {0, 1e6});
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, Code::kBadInput);
  EXPECT_TRUE(refused.error().message.starts_with("mass_kg: "));
}

}  // namespace
}  // namespace fairlead::physics
