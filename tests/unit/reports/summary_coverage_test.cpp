// The summary's own intervals over 1,000 seeded fleets whose true rates are known: a nominal 95 %
// must hold the truth in 94 to 99 of 100 (exact intervals err on the wide side), and bounds must
// hold what the silent ones would have shown, always.
#include <gtest/gtest.h>

#include <cstdio>
#include <random>

#include "daemon/physics/statistics.h"
#include "reports/summary/summary.h"

namespace fairlead::reports {
namespace {

constexpr int kFleets = 1'000;

// Standard distributions differ between libraries; this does not.
class Dice {
 public:
  explicit Dice(uint64_t seed) : engine_(seed) {}
  double unit() { return static_cast<double>(engine_() >> 11) * 0x1.0p-53; }
  bool with(double chance) { return unit() < chance; }
  double between(double lo, double hi) { return lo + (hi - lo) * unit(); }

 private:
  std::mt19937_64 engine_;
};

struct Fleet {
  double rate = 0;
  RuleCount seen;
  uint64_t silent_deviated = 0;  // Among the unproven; nobody saw them.
};

Fleet fleet_of(uint64_t seed) {
  Dice dice(seed);
  Fleet out;
  out.rate = dice.between(0.002, 0.05);
  const double silent = dice.between(0, 0.2);
  const auto jobs = static_cast<uint64_t>(dice.between(200, 4'000));
  for (uint64_t i = 0; i < jobs; ++i) {
    const bool deviated = dice.with(out.rate);
    if (dice.with(silent)) {
      ++out.seen.unproven;
      out.silent_deviated += deviated;
    } else {
      ++(deviated ? out.seen.deviated : out.seen.met);
    }
  }
  return out;
}

TEST(SummaryCoverage, IntervalsHoldTheTruthAsOftenAsTheySay) {
  int held = 0, bounded = 0;
  for (uint64_t seed = 1; seed <= kFleets; ++seed) {
    const Fleet fleet = fleet_of(seed);
    const Rate rate = rate_of(fleet.seen);
    ASSERT_TRUE(rate.shown && rate.bounded);
    held += rate.lo <= 100 * fleet.rate && 100 * fleet.rate <= rate.hi;
    const double whole = 100 * static_cast<double>(fleet.seen.deviated + fleet.silent_deviated) /
                         static_cast<double>(fleet.seen.all());
    bounded += rate.all_good <= whole && whole <= rate.all_bad;
  }
  std::printf("held in %d, bounded in %d of %d fleets\n", held, bounded, kFleets);
  EXPECT_GE(held, 940);
  EXPECT_LE(held, 990);
  EXPECT_EQ(bounded, kFleets);
}

// The same for Wilson, whose coverage lies about the nominal value, not above it (NIST 7.2.4.1).
TEST(SummaryCoverage, WilsonToo) {
  int held = 0;
  for (uint64_t seed = 1; seed <= kFleets; ++seed) {
    const Fleet fleet = fleet_of(seed);
    const auto interval = physics::wilson_interval(fleet.seen.deviated, fleet.seen.judged());
    held += interval.lo <= fleet.rate && fleet.rate <= interval.hi;
  }
  std::printf("held in %d of %d fleets\n", held, kFleets);
  EXPECT_GE(held, 940);
  EXPECT_LE(held, 990);
}

// Two spans of one rate: p below 0.05 must not come more often than it says. The exact conditional
// test is on the careful side.
TEST(SummaryCoverage, ComparisonsCryWolfSeldomEnough) {
  int cried = 0;
  for (uint64_t seed = 1; seed <= kFleets; ++seed) {
    Dice dice(seed);
    const double rate = dice.between(0.002, 0.05);
    uint64_t hits[2] = {0, 0};
    for (auto& one : hits) {
      for (int i = 0; i < 2'000; ++i) one += dice.with(rate);
    }
    cried += physics::compare_rates(hits[0], 2'000, hits[1], 2'000) < 0.05;
  }
  std::printf("p < 0.05 in %d of %d\n", cried, kFleets);
  EXPECT_LE(cried, 60);
}

}  // namespace
}  // namespace fairlead::reports
