// Whole-number arithmetic of the judge: products in 128 bits, every rounding outward.
//
// Threads: pure functions.
#pragma once

#include <cmath>
#include <cstdint>

namespace fairlead::judge {

using Wide = __int128;

[[nodiscard]] constexpr int64_t floor_div(Wide a, Wide b) {
  // Most fit 64 bits, in which a processor divides many times faster.
  const auto near_a = static_cast<int64_t>(a), near_b = static_cast<int64_t>(b);
  if (near_a == a && near_b == b && near_b > 0) {
    const int64_t near = near_a / near_b;
    return near_a % near_b < 0 ? near - 1 : near;
  }
  const Wide quotient = a / b;
  return static_cast<int64_t>((a % b != 0 && (a < 0) != (b < 0)) ? quotient - 1 : quotient);
}
[[nodiscard]] constexpr int64_t ceil_div(Wide a, Wide b) { return -floor_div(-a, b); }

/// One-sided 95 % of a normal: u = 1.645 s.
constexpr int64_t kUPerMille = 1645;

/// Least whole r with r * r >= square.
[[nodiscard]] inline int64_t root_up(Wide square) {
  if (square <= 0) return 0;
  auto root = static_cast<int64_t>(std::sqrt(static_cast<double>(square)));
  while (root > 0 && static_cast<Wide>(root) * root >= square) --root;
  while (static_cast<Wide>(root) * root < square) ++root;
  return root;
}

[[nodiscard]] inline int64_t root_sum_square(int64_t a, int64_t b) {
  return root_up(static_cast<Wide>(a) * a + static_cast<Wide>(b) * b);
}

}  // namespace fairlead::judge
