// Elementary functions from + - * / and sqrt alone, so that every build gives the same bits:
// no libm, no fused multiply-add (-ffp-contract=off). Good to about 1e-13 over the ranges used.
//
// Threads: pure functions.
#pragma once

namespace fairlead {

[[nodiscard]] double exact_exp(double x);
/// x > 0.
[[nodiscard]] double exact_log(double x);
[[nodiscard]] double exact_sin_deg(double degrees);
[[nodiscard]] double exact_cos_deg(double degrees);
/// Standard normal upper tail P(Z > z), z >= 0. Series / continued fraction of
/// Abramowitz and Stegun 26.2.11 and 26.2.14.
[[nodiscard]] double normal_tail(double z);
/// Phi(z), any z.
[[nodiscard]] double normal_cdf(double z);
/// The z with P(Z > z) = tail, 0 < tail <= 0.5, by fixed-count bisection.
[[nodiscard]] double normal_tail_quantile(double tail);

}  // namespace fairlead
