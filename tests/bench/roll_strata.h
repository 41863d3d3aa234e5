// The strata over which the roll estimator is checked, and what a stratum's runs add up to.
//
// Threads: values and pure functions.
#pragma once

#include <array>
#include <span>
#include <string>

#include "tests/bench/roll_sim.h"

namespace fairlead::bench {

struct Stratum {
  const char* name;
  RollCase what;
  bool in_model;  // Noise and motion are what the estimator assumes; else coverage may be wide.
  physics::TagAllowance allowance;
};
[[nodiscard]] std::span<const Stratum> roll_strata();

constexpr size_t kRanks = 10;
constexpr double kLimitM = 10.0;

struct StratumSums {
  int runs = 0, unsolved = 0;
  int bare_below = 0, bare_above = 0;    // Truth outside the interval before any allowance ...
  int truth_below = 0, truth_above = 0;  // ... and with them.
  double off = 0, square = 0, width = 0;
  double sum_square = 0, net_square = 0, vector_square = 0;
  double gated_square = 0, guarded_square = 0;
  int inside = 0, deviated_inside = 0, outside = 0, met_outside = 0, undecided = 0;
  int near = 0, near_covered = 0;   // Truths of 9 to 11 m.
  std::array<int, kRanks> ranks{};  // Of the truth in the posterior, in tenths.
  double cpu_s = 0;

  [[nodiscard]] static double share(int part, int whole) {
    return whole == 0 ? 0.0 : static_cast<double>(part) / whole;
  }
  [[nodiscard]] double root(double squares) const {
    return runs == 0 ? 0.0 : std::sqrt(squares / runs);
  }
};

/// Seeds of the table in docs/roll.md; whoever tunes the estimator takes others.
constexpr uint64_t kTableSeeds = 1'000'000'000;
[[nodiscard]] constexpr uint64_t seed_of(size_t index, int run, uint64_t first) {
  return first + 1'000'000 * (index + 1) + static_cast<uint64_t>(run);
}

/// Runs `runs` cases of the stratum; the same numbers for the same `index` and seed.
[[nodiscard]] StratumSums run_stratum(const Stratum& stratum, size_t index, int runs,
                                      uint64_t first_seed = kTableSeeds);

}  // namespace fairlead::bench
