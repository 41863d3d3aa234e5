#include "tests/unit/physics/every_input_kit.h"

#include <gtest/gtest.h>

#include <limits>
#include <string>

namespace fairlead::physics {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kTiny = std::numeric_limits<double>::denorm_min();

void expect_sense(const Said& out, const std::string& where) {
  if (out.refused) return;
  for (const Interval& figure : out.figures) EXPECT_TRUE(sound(figure)) << where;
  for (const Check& check : out.checks) {
    EXPECT_EQ(check.verdict, verdict_of(check.margin)) << where << ": " << check.what;
  }
}

void takes_its_own_example(const Case& one) {
  const Said out = one.call(one.good);
  EXPECT_FALSE(out.refused) << one.name;
  EXPECT_FALSE(out.figures.empty() && out.checks.empty()) << one.name;
  expect_sense(out, one.name);
}

void refuses_nan_and_infinity(const Case& one) {
  for (size_t i = 0; i < one.good.size(); ++i) {
    for (const double bad : {kNan, -kNoBound}) {
      Inputs in = one.good;
      in[i] = bad;
      const Said out = one.call(in);
      // A rating or pretension that makes no sense may stand in a list of checks, all open.
      for (const Check& check : out.checks)
        EXPECT_NE(check.verdict, Verdict::kMet) << one.name << ", input " << i << " " << bad;
      EXPECT_TRUE(out.refused || !out.checks.empty()) << one.name << ", input " << i << " " << bad;
    }
  }
}

void is_exact_or_refuses_at_the_edges(const Case& one) {
  const double edges[] = {0,    -0.0, kTiny, -kTiny, 1,     -1,      1e-12, 0.5,
                          0.8,  30,   45,    90,     -90,   180,     360,   1e6,
                          -1e6, 1e12, 1e300, -1e300, 1e308, kNoBound};
  for (size_t i = 0; i < one.good.size(); ++i) {
    for (const double edge : edges) {
      Inputs in = one.good;
      in[i] = edge;
      expect_sense(one.call(in), std::string(one.name) + ", input " + std::to_string(i) + " = " +
                                     std::to_string(edge));
      for (size_t j = i + 1; j < one.good.size(); ++j) {
        for (const double other : edges) {
          in[j] = other;
          expect_sense(one.call(in), std::string(one.name) + ", inputs " + std::to_string(i) +
                                         " = " + std::to_string(edge) + ", " + std::to_string(j) +
                                         " = " + std::to_string(other));
        }
        in[j] = one.good[j];
      }
    }
  }
}

}  // namespace

Said refusal() { return {.refused = true, .figures = {}, .checks = {}}; }
Said figures(std::vector<Interval> found) { return {.figures = std::move(found), .checks = {}}; }
Said said(const Result<Interval>& figure) { return figure ? figures({*figure}) : refusal(); }
Said said(const Result<Check>& check) {
  return check ? Said{.figures = {}, .checks = {*check}} : refusal();
}
Said said(const Result<std::vector<Check>>& checks) {
  return checks ? Said{.figures = {}, .checks = *checks} : refusal();
}
Said said(const std::optional<double>& figure) {
  return figure ? figures({exactly(*figure)}) : refusal();
}

void put_to_all(const std::vector<Case>& cases) {
  for (const Case& one : cases) {
    takes_its_own_example(one);
    refuses_nan_and_infinity(one);
    is_exact_or_refuses_at_the_edges(one);
  }
}

}  // namespace fairlead::physics
