// A truck's accelerations from velocities. Kinematics in closed form [C]: braking at a, and a bend
// of radius R at speed v, which gives v2 / R. The g figures are those of 49 CFR 393.102 [V] and EN
// 12195-1 [V2]. How often noise alone is called a hard stop is counted, not believed.
#include "daemon/physics/truck_motion.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <random>

namespace fairlead::physics {
namespace {

constexpr double kGravity = 9.80665;  // m/s2, SI Brochure 9th ed.

std::vector<SpeedFix> drive(double seconds, double hz, double sd,
                            const std::function<std::pair<double, double>(double)>& velocity) {
  std::vector<SpeedFix> fixes;
  for (int i = 0; i <= static_cast<int>(seconds * hz); ++i) {
    const double t = i / hz;
    const auto [east, north] = velocity(t);
    fixes.push_back({.time_us = static_cast<int64_t>(std::llround(t * 1e6)),
                     .east_mps = east,
                     .north_mps = north,
                     .sd_mps = sd});
  }
  return fixes;
}

const PeakMotion& peak_of(const MotionEvidence& evidence, Push push) {
  return *std::ranges::find(evidence.peaks, push, &PeakMotion::push);
}

TEST(MotionWindows, SteadyBrakingIsItsOwnFigure) {
  for (const double a : {0.5, 2.0, 5.0}) {
    const auto fixes = drive(4, 5, 0.04, [&](double t) { return std::pair(25 - a * t, 0.0); });
    const auto windows = motion_windows(fixes);
    ASSERT_TRUE(windows && !windows->empty());
    for (const MotionWindow& window : *windows) {
      if (window.fixes < 3) continue;
      EXPECT_NEAR(window.braking_mps2, a, 1e-9);
      EXPECT_NEAR(window.left_mps2, 0, 1e-9);
    }
  }
}

// A circle to the left at 15 m/s with radius 60 m: 225 / 60 = 3.75 m/s2 = 0.382 g. A window of 1 s
// flattens it by sin(x)/x-like 0.5 % only.
TEST(MotionWindows, BendIsSpeedSquaredOverRadius) {
  const double v = 15, r = 60;
  const auto fixes = drive(8, 10, 0.04, [&](double t) {
    return std::pair(v * std::cos(v / r * t), v * std::sin(v / r * t));
  });
  const auto windows = motion_windows(fixes, {.window_s = 1});
  ASSERT_TRUE(windows && !windows->empty());
  for (const MotionWindow& window : *windows) {
    EXPECT_NEAR(window.left_mps2, v * v / r, 0.03);
    EXPECT_NEAR(window.braking_mps2, 0, 0.03);
  }
  const auto evidence = motion_evidence(fixes, {}, {.window_s = 1});
  ASSERT_TRUE(evidence);
  EXPECT_NEAR(peak_of(*evidence, Push::kRight).best, 0.382, 0.003);
  EXPECT_LT(peak_of(*evidence, Push::kLeft).best, 0);
}

// 393.102 [V]: 0.435 g forward against working load limits, 0.8 g against breaking strength. A stop
// of 0.6 g is surely beyond the first and surely not beyond the second.
TEST(MotionEvidence, HardStop) {
  const double a = 0.6 * kGravity;
  const auto fixes = drive(9, 5, 0.05, [&](double t) {
    return std::pair(t < 5 ? 22.0 : std::max(3.0, 22.0 - a * (t - 5)), 0.0);
  });
  const auto by_wll = motion_evidence(fixes, {.forward = 0.435, .rearward = 0.5, .sideways = 0.25});
  const auto by_breaking = motion_evidence(fixes, {});
  ASSERT_TRUE(by_wll && by_breaking);
  EXPECT_EQ(peak_of(*by_wll, Push::kForward).within, Verdict::kDeviated);
  EXPECT_EQ(peak_of(*by_breaking, Push::kForward).within, Verdict::kMet);
  EXPECT_NEAR(peak_of(*by_wll, Push::kForward).best, 0.6, 0.01);
  EXPECT_EQ(peak_of(*by_wll, Push::kLeft).within, Verdict::kMet);
}

// What a silence of 3 s hid is not shown, and a reading too coarse to tell says so.
TEST(MotionEvidence, SilenceAndCoarseReadingsAreUnproven) {
  auto fixes = drive(20, 2, 0.05, [](double) { return std::pair(20.0, 0.0); });
  ASSERT_EQ(motion_evidence(fixes, {})->peaks.size(), 4u);
  EXPECT_EQ(peak_of(*motion_evidence(fixes, {}), Push::kForward).within, Verdict::kMet);
  auto holed = fixes;
  holed.erase(holed.begin() + 18, holed.begin() + 23);
  const auto hidden = motion_evidence(holed, {});
  EXPECT_EQ(peak_of(*hidden, Push::kForward).within, Verdict::kUnproven);
  EXPECT_DOUBLE_EQ(hidden->longest_silence_s, 3.0);
  for (SpeedFix& fix : fixes) fix.sd_mps = 8;
  EXPECT_EQ(peak_of(*motion_evidence(fixes, {}), Push::kForward).within, Verdict::kUnproven);
  // Standing: direction is noise, nothing is said.
  const auto parked = drive(20, 2, 0.05, [](double) { return std::pair(0.0, 0.0); });
  EXPECT_TRUE(motion_evidence(parked, {})->peaks.empty());
}

// Noise alone, white and hanging together over 1.5 s: called beyond in no more drives than asked
// for (5 % a direction; 400 drives each, three sigma of counting allowed).
TEST(MotionEvidence, NoiseAloneSeldomAccuses) {
  for (const double tau_s : {0.0, 1.5}) {
    int accused = 0;
    constexpr int kDrives = 400;
    for (int run = 0; run < kDrives; ++run) {
      std::mt19937 random(static_cast<unsigned>(run) * 2 + (tau_s > 0));
      std::normal_distribution<double> normal;
      const double keep = tau_s > 0 ? std::exp(-1 / tau_s) : 0, sd = 0.3;
      const double a = 0.3 * kGravity;  // Truth: exactly the assumed figure.
      double e = sd * normal(random), n = sd * normal(random);
      auto fixes = drive(10, 1, sd, [&](double t) {
        e = keep * e + std::sqrt(1 - keep * keep) * sd * normal(random);
        n = keep * n + std::sqrt(1 - keep * keep) * sd * normal(random);
        return std::pair(33 - a * t + e, n);
      });
      const auto evidence =
          motion_evidence(fixes, {.forward = 0.3, .rearward = 0.5, .sideways = 0.5});
      ASSERT_TRUE(evidence);
      accused += peak_of(*evidence, Push::kForward).within == Verdict::kDeviated;
    }
    EXPECT_LE(accused, kDrives * 0.05 + 3 * std::sqrt(kDrives * 0.05 * 0.95)) << tau_s;
  }
}

TEST(MotionEvidence, RefusesNonsense) {
  auto fixes = drive(5, 2, 0.05, [](double) { return std::pair(20.0, 0.0); });
  EXPECT_FALSE(motion_evidence(fixes, {.forward = 0}));
  EXPECT_FALSE(motion_evidence(fixes, {}, {.window_s = std::nan("")}));
  fixes[3].east_mps = std::nan("");
  EXPECT_FALSE(motion_evidence(fixes, {}));
  fixes[3].east_mps = 20;
  std::swap(fixes[3].time_us, fixes[4].time_us);
  EXPECT_FALSE(motion_evidence(fixes, {}));
  EXPECT_TRUE(motion_evidence({}, {})->peaks.empty());
}

}  // namespace
}  // namespace fairlead::physics
