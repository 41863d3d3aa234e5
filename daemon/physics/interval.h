// A quantity known to lie between two bounds, and the three-valued verdict on a margin.
//
// The bounds stand for what is not known of the world (a mass to 60 kg, an angle by eye, a tag
// nobody can read), not for the rounding of doubles: an exact quantity has lo == hi and its sums
// are those of plain doubles. An absent bound is an infinity: an unread rating is {0, kNoBound}.
//
// Threads: pure functions. Units: the caller's; the name of a variable says which.
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string_view>

#include "daemon/base/result.h"

namespace fairlead::physics {

inline constexpr double kNoBound = std::numeric_limits<double>::infinity();

struct Interval {
  double lo = 0;
  double hi = 0;
  friend constexpr bool operator==(const Interval&, const Interval&) = default;
};

[[nodiscard]] constexpr Interval exactly(double value) { return {value, value}; }
[[nodiscard]] constexpr Interval plus_minus(double best, double u) { return {best - u, best + u}; }
/// Ordered and not NaN; a bound may be infinite.
[[nodiscard]] constexpr bool sound(const Interval& x) { return x.lo <= x.hi; }
[[nodiscard]] constexpr bool is_exact(const Interval& x) { return x.lo == x.hi; }

[[nodiscard]] constexpr Interval operator-(const Interval& x) { return {-x.hi, -x.lo}; }
[[nodiscard]] constexpr Interval operator+(const Interval& a, const Interval& b) {
  return {a.lo + b.lo, a.hi + b.hi};
}
[[nodiscard]] constexpr Interval operator-(const Interval& a, const Interval& b) {
  return {a.lo - b.hi, a.hi - b.lo};
}
constexpr Interval& operator+=(Interval& a, const Interval& b) { return a = a + b; }

/// All values of f where each argument lies in its interval, for an f that is monotone in each
/// argument while the others stand still: its extremes then lie at corners of the box. An argument
/// that stands twice in f counts once, so the answer is tight. NaN at a corner makes both ends NaN.
template <typename F>
[[nodiscard]] constexpr Interval over_corners(F f) {
  return exactly(f());
}
template <typename F, typename... Rest>
[[nodiscard]] constexpr Interval over_corners(F f, const Interval& first, const Rest&... rest) {
  const auto with = [&](double value) {
    return over_corners([&](auto... others) { return f(value, others...); }, rest...);
  };
  const Interval a = with(first.lo);
  if (is_exact(first)) return a;
  const Interval b = with(first.hi);
  const bool odd = a.lo != a.lo || b.lo != b.lo;
  if (odd) return exactly(std::numeric_limits<double>::quiet_NaN());
  return {std::min(a.lo, b.lo), std::max(a.hi, b.hi)};
}

/// Here 0 x unbounded is 0: an absent bound is a finite number that nobody knows.
[[nodiscard]] constexpr Interval operator*(const Interval& a, const Interval& b) {
  return over_corners([](double x, double y) { return x == 0 || y == 0 ? 0 : x * y; }, a, b);
}
[[nodiscard]] constexpr Interval operator*(double k, const Interval& x) { return exactly(k) * x; }
[[nodiscard]] constexpr Interval operator*(const Interval& x, double k) { return exactly(k) * x; }
/// Unbounded both ways where the divisor may be 0.
[[nodiscard]] constexpr Interval operator/(const Interval& a, const Interval& b) {
  if (b.lo <= 0 && b.hi >= 0) return {-kNoBound, kNoBound};
  return over_corners([](double x, double y) { return x / y; }, a, b);
}

/// The weaker of two: a chain holds what its weakest part holds. What is not sound stays so.
[[nodiscard]] constexpr Interval least(const Interval& a, const Interval& b) {
  if (!sound(a) || !sound(b)) return sound(a) ? b : a;
  return {std::min(a.lo, b.lo), std::min(a.hi, b.hi)};
}
[[nodiscard]] constexpr Interval greatest(const Interval& a, const Interval& b) {
  if (!sound(a) || !sound(b)) return sound(a) ? b : a;
  return {std::max(a.lo, b.lo), std::max(a.hi, b.hi)};
}

/// As in the judge: what is not shown is unproven, never met.
enum class Verdict { kMet, kUnproven, kDeviated };

/// A margin is positive inside its limit. NaN and a margin on both sides of 0 are unproven.
[[nodiscard]] constexpr Verdict verdict_of(const Interval& margin) {
  if (margin.lo >= 0 && sound(margin)) return Verdict::kMet;
  if (margin.hi < 0 && sound(margin)) return Verdict::kDeviated;
  return Verdict::kUnproven;
}
/// Both must be met: the worse of the two.
[[nodiscard]] constexpr Verdict both(Verdict a, Verdict b) { return std::max(a, b); }
/// One of them suffices: the better of the two.
[[nodiscard]] constexpr Verdict either(Verdict a, Verdict b) { return std::min(a, b); }
[[nodiscard]] constexpr std::string_view word_of(Verdict verdict) {
  return verdict == Verdict::kMet ? "met" : verdict == Verdict::kDeviated ? "deviated" : "unproven";
}

/// Refuses an input that is NaN, out of order or outside what the formula holds for; `allowed`
/// may have infinite ends, and an input's infinite end needs one. Errors: kBadInput, naming it.
[[nodiscard]] inline Status check_input(std::string_view name, const Interval& x,
                                        const Interval& allowed) {
  if (sound(x) && x.lo >= allowed.lo && x.hi <= allowed.hi) return {};
  return fail(Code::kBadInput, fmt::format("{}: {} to {} is not within {} to {}; correct it", name,
                                           x.lo, x.hi, allowed.lo, allowed.hi));
}

}  // namespace fairlead::physics
