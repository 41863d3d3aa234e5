// Properties of the winching arithmetic: monotone, scaling, refusing; no source beyond the
// formulas.
#include <gtest/gtest.h>

#include <limits>

#include "daemon/physics/angles.h"
#include "daemon/physics/winching_drum.h"
#include "daemon/physics/winching_resistance.h"
#include "daemon/physics/winching_rigging.h"
#include "daemon/physics/winching_slings.h"
#include "daemon/physics/winching_tackle.h"

namespace fairlead::physics {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

TEST(Winching, RefusesNonsense) {
  const Drum good{.diameter_mm = 100,
                  .width_mm = 230,
                  .rope_mm = 10,
                  .rope_length_m = 25,
                  .first_layer_n = 35'600};
  const auto layers = drum_layers(good).value();
  for (const double bad : {-1.0, kNan, 1e300, kNoBound}) {
    EXPECT_FALSE(tackle_loads(exactly(bad), {}));
    EXPECT_FALSE(parts_needed(exactly(bad), exactly(1)));
    EXPECT_FALSE(parts_needed(exactly(1), exactly(bad)));
    EXPECT_FALSE(two_line_pull_n(exactly(bad), exactly(30)));
    EXPECT_FALSE(two_line_pull_n(exactly(1), exactly(bad)));
    EXPECT_FALSE(block_load_n(exactly(bad), exactly(30)));
    EXPECT_FALSE(leg_tension_factor(exactly(bad)));
    EXPECT_FALSE(bridle_leg_share(exactly(bad)));
    EXPECT_FALSE(leg_tension_factor_by_size(exactly(bad), exactly(1)));
    EXPECT_FALSE(rolling_pulls_n(exactly(bad), exactly(11), exactly(0.15)));
    EXPECT_FALSE(rolling_pulls_n(exactly(1000), exactly(11), exactly(bad)));
    EXPECT_FALSE(check_peak(exactly(bad), {}));
    EXPECT_FALSE(pull_with_rope_out_n(layers, 25, exactly(bad)));
    EXPECT_FALSE(two_leg_factor(bad));
    for (double Drum::* field : {&Drum::diameter_mm, &Drum::width_mm, &Drum::rope_mm,
                                 &Drum::rope_length_m, &Drum::first_layer_n}) {
      Drum drum = good;
      drum.*field = bad;
      EXPECT_FALSE(drum_layers(drum)) << bad;
    }
  }
  for (const double bad : {91.0, -91.0, kNan}) {
    EXPECT_FALSE(grade_share_exact(exactly(bad)));
    EXPECT_FALSE(grade_share_rule(exactly(bad)));
  }
  EXPECT_FALSE(tackle_loads(exactly(1), {.parts = 0}));
  EXPECT_FALSE(tackle_loads(exactly(1), {.parts = 1, .sheaves = -1}));
  EXPECT_FALSE(pull_with_rope_out_n({}, 25, exactly(1)));
  Drum thin = good;
  thin.width_mm = 5;
  EXPECT_FALSE(drum_layers(thin));  // Narrower than its rope.
  const RiggingPart part{"line", exactly(kNan), exactly(1), {}, ""};
  EXPECT_FALSE(check_peak(exactly(1), std::vector{part}));
}

// The interval over a slope holds every slope inside, and its ends are reached.
TEST(Winching, PullOverASlopeIsTight) {
  for (const Interval slope : {Interval{-20, 20}, {5, 40}, {60, 90}, {70, 88}}) {
    for (const double share : {0.04, 0.15, 0.5}) {
      const auto pulls = rolling_pulls_n({1500, 1600}, slope, exactly(share)).value();
      Interval seen{kNoBound, -kNoBound};
      for (int i = 0; i <= 2000; ++i) {
        const double at = slope.lo + (slope.hi - slope.lo) * i / 2000;
        for (const double mass : {1500.0, 1600.0}) {
          const double pull = mass * 9.80665 * (sin_deg(at) + share * cos_deg(at));
          seen = {std::min(seen.lo, pull), std::max(seen.hi, pull)};
        }
      }
      EXPECT_NEAR(pulls.free_n.lo, seen.lo, 0.01);
      EXPECT_NEAR(pulls.free_n.hi, seen.hi, 0.01);
      EXPECT_GE(pulls.locked_n.hi, pulls.free_n.hi);
    }
  }
}

TEST(Winching, LayersFallAndHoldTheirRope) {
  for (double rope = 4; rope <= 20; rope += 1) {
    const auto layers = drum_layers({.diameter_mm = 80,
                                     .width_mm = 200,
                                     .rope_mm = rope,
                                     .rope_length_m = 60,
                                     .first_layer_n = 50'000})
                            .value();
    EXPECT_EQ(layers.front().pull_n, 50'000);
    EXPECT_GE(layers.back().length_m, 60);
    for (size_t i = 1; i < layers.size(); ++i) {
      EXPECT_LT(layers[i].pull_n, layers[i - 1].pull_n);
      EXPECT_GT(layers[i].length_m, layers[i - 1].length_m);
    }
    // More rope out: never less pull.
    double before = 0;
    for (double out = 0; out <= 70; out += 1) {
      const Interval now = pull_with_rope_out_n(layers, 60, exactly(out)).value();
      EXPECT_GE(now.lo, before);
      before = now.lo;
    }
  }
}

TEST(Winching, MarginsScaleAndPartsLimit) {
  const RiggingPart parts[] = {{"line", {17'000, 18'000}, exactly(1), {}, ""},
                               {"eye", exactly(22'000), {0.5, 0.6}, {}, ""}};
  std::vector<RiggingPart> scaled(std::begin(parts), std::end(parts));
  for (RiggingPart& part : scaled) part.limit_n = 3.0 * part.limit_n;
  const auto a = check_peak({8000, 9000}, parts).value();
  const auto b = check_peak(3.0 * Interval{8000, 9000}, scaled).value();
  for (size_t i = 0; i < a.size(); ++i) {
    EXPECT_DOUBLE_EQ(b[i].margin.lo, 3 * a[i].margin.lo);
    EXPECT_DOUBLE_EQ(b[i].margin.hi, 3 * a[i].margin.hi);
  }
  // At the weakest part's pull nothing surely deviates, and just above its top something does.
  const WeakestRigging weakest = weakest_rigging(parts);
  EXPECT_EQ(weakest.part, "line");
  EXPECT_EQ(worst_of(check_peak(exactly(weakest.line_pull_n.lo), parts).value()), Verdict::kMet);
  EXPECT_EQ(worst_of(check_peak(exactly(weakest.line_pull_n.hi + 1), parts).value()),
            Verdict::kDeviated);
  scaled[1].counts = Verdict::kDeviated;
  scaled[1].why = "out of date";
  EXPECT_EQ(weakest_rigging(scaled).part, "eye");
  EXPECT_EQ(worst_of(check_peak(exactly(1), scaled).value()), Verdict::kDeviated);
  scaled[1].counts = Verdict::kUnproven;
  EXPECT_EQ(worst_of(check_peak(exactly(1), scaled).value()), Verdict::kUnproven);
}

TEST(Winching, MireMayOrMayNot) {
  const Resistance parts{
      .surface = exactly(0.04), .grade = exactly(0.2), .mire = {0, 1}, .damage = exactly(0)};
  EXPECT_EQ(total_share(parts, MireRule::kAdded), (Interval{0.2, 1.2}));
  const Resistance firm{
      .surface = exactly(0.04), .grade = exactly(0.2), .mire = exactly(0), .damage = exactly(0.5)};
  EXPECT_DOUBLE_EQ(total_share(firm, MireRule::kAdded).lo, 0.74);
}

}  // namespace
}  // namespace fairlead::physics
