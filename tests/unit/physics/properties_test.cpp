// Properties of the room's arithmetic: what scales, what adding never lowers, which columns agree,
// and what functions without a refusal make of nonsense (the others: every_*_test.cpp). They follow
// from the formulas; no source beyond that where none is named.
#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "daemon/physics/angles.h"
#include "daemon/physics/boosting_class.h"
#include "daemon/physics/bridge_formula.h"
#include "daemon/physics/default_wll.h"
#include "daemon/physics/securement.h"
#include "daemon/physics/securement_en12195.h"
#include "daemon/physics/statistics.h"
#include "daemon/physics/winching_estimate.h"

namespace fairlead::physics {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

Tiedown strap_of(Interval wll) {
  return {.name = "strap",
          .parts = {{.name = "strap", .wll = wll, .why = ""}},
          .anchor = {},
          .path = Path::kSameSide,
          .legs = {{exactly(45), exactly(180)}}};
}

// Plain functions without a refusal of their own: nothing is made up from NaN.
TEST(WithoutARefusal, NothingIsMadeUpFromNan) {
  for (const double bad : {kNan, -kNoBound}) {
    EXPECT_EQ(at_least("a", "m", exactly(bad), exactly(1)).verdict == Verdict::kMet, false);
    EXPECT_EQ(hint_at(exactly(kNan), VoltageClass::k12), Hint::kNone);
    EXPECT_EQ(verdict_of(exactly(bad)) == Verdict::kMet, false);
  }
  EXPECT_EQ(at_most("a", "m", exactly(kNan), exactly(1)).verdict, Verdict::kUnproven);
  EXPECT_FALSE(sound(sin_over(exactly(kNan))));
  EXPECT_TRUE(std::isnan(degrees_of_percent(kNan)));
  EXPECT_EQ(degrees_of_percent(kNoBound), 90);
  EXPECT_FALSE(sound(cos_over({0, kNoBound})));
  EXPECT_EQ(poisson_interval(3, kNan).hi, kNoBound);
  EXPECT_EQ(wilson_interval(0, 0), (Interval{0, 1}));
  EXPECT_EQ(exact_share_interval(3, 2), (Interval{0, 1}));
  EXPECT_EQ(compare_rates(3, 0, 4, 1), 1);
  for (const int64_t size : {int64_t{-1}, int64_t{0}, std::numeric_limits<int64_t>::min()}) {
    EXPECT_FALSE(printed_wll(TiedownMaterial::kWebbing, size));
    EXPECT_FALSE(printed_strapping_wll(size, 1'000));
    EXPECT_FALSE(printed_strapping_wll(31'700, size));
  }
  // However wide, the widest printed row and no more.
  EXPECT_EQ(printed_wll(TiedownMaterial::kWebbing, std::numeric_limits<int64_t>::max())->kg, 1810);
  EXPECT_EQ(recovery_exempt({.claimed = true,
                             .disabled_at = "here",
                             .facility = "there",
                             .unit_gross_lb = kNan,
                             .disabled_gross_lb = 1}) == Verdict::kMet,
            false);
  for (const double bad : {kNan, -1.0, kNoBound})
    for (const double tension :
         shares_at(std::vector{Restraint{.limit_n = exactly(1),
                                         .legs = {{exactly(0), exactly(180)}},
                                         .pretension_n = exactly(0)}},
                   std::vector{bad}, Direction::kForward, 100))
      EXPECT_TRUE(tension == 0 || std::isfinite(tension)) << bad;
}

// All masses and ratings times k: margins times k, numbers of pieces as they were.
TEST(Scaling, MarginsGoWithMassesAndRatings) {
  for (const double k : {0.25, 3.0, 7.5}) {
    const auto pull = [](double times) {
      return estimate_pull({.mass_kg = times * Interval{1500, 1640},
                            .slope_deg = {9, 13},
                            .surface = Surface::kGravel,
                            .family = {}},
                           Purpose::kPlanning)
          ->pull_n;
    };
    EXPECT_NEAR(pull(k).hi, k * pull(1).hi, 1e-6);
    EXPECT_NEAR(pull(k).lo, k * pull(1).lo, 1e-6);
    const auto direct = [](double times) {
      return check_direct_lashing({times * exactly(2000), exactly(0.3), {30, 50}, {10, 40}},
                                  times * exactly(20'000), Force::kForward, Edition::k2010)
          ->margin;
    };
    EXPECT_NEAR(direct(k).lo, k * direct(1).lo, 1e-6);
    EXPECT_NEAR(direct(k).hi, k * direct(1).hi, 1e-6);
    const auto lashings = [](double times) {
      return over_top_lashings(
                 {times * exactly(2000), exactly(0.3), exactly(60), times * exactly(4000)},
                 Force::kForward, Edition::k2010)
          ->number;
    };
    EXPECT_NEAR(lashings(k).lo, lashings(1).lo, 1e-9);
    const auto parts = [](double times) {
      return (*fewest_parts(times * exactly(20'000), times * exactly(9000)).value()).tackle.parts;
    };
    EXPECT_EQ(parts(k), parts(1));
  }
}

// One more sound lashing never lowers a margin: EN 12195-1 by formula, and a leg of a restraint.
TEST(Adding, OneMoreLashingLowersNoMargin) {
  for (const Edition edition : {Edition::k2003, Edition::k2010}) {
    Interval before{-kNoBound, -kNoBound};
    for (int n = 1; n <= 8; ++n) {
      const auto margin = check_direct_lashing({.mass_kg = {1900, 2100},
                                                .friction = {0.2, 0.4},
                                                .to_deck_deg = {20, 60},
                                                .to_force_deg = {0, 45},
                                                .effective = n},
                                               exactly(10'000), Force::kForward, edition)
                              ->margin;
      EXPECT_GE(margin.lo, before.lo);
      EXPECT_GE(margin.hi, before.hi);
      before = margin;
    }
  }
}

// The printed pairs of 393.110, .128 and .130 are one limit in two units: at a whole step of either
// the same count comes out (5 ft is 1.52 m, 10 ft 3.04 m, 1,100 lb 500 kg as printed).
TEST(UnitSystems, AgreeOnCounts) {
  const auto by = [](double length, double weight, WeightUnit unit) {
    return least_tiedowns_by_length(exactly(length), exactly(weight), false, unit).value();
  };
  for (const auto& [ft, m] : {std::pair{4.0, 1.2},
                              {5.0, 1.52},
                              {6.0, 1.83},
                              {10.0, 3.04},
                              {15.0, 4.57},
                              {20.0, 6.08},
                              {33.0, 10.06}})
    for (const auto& [lb, kg] : {std::pair{1000.0, 454.0}, {1100.0, 500.0}, {2000.0, 907.0}})
      EXPECT_EQ(by(ft, lb, WeightUnit::kLb), by(m, kg, WeightUnit::kKg)) << ft << " ft " << lb;
  for (const auto& [lb, kg] : {std::pair{9000.0, 4082.0}, {10'000.0, 4536.0}, {12'000.0, 5443.0}}) {
    const std::vector<PlacedTiedown> in_lb(4, {strap_of(exactly(5000)), End::kFront});
    const std::vector<PlacedTiedown> in_kg(4, {strap_of(exactly(2268)), End::kFront});
    const auto a = check_vehicle_count(in_lb, exactly(lb), WeightUnit::kLb, VehicleCount::kFour);
    const auto b = check_vehicle_count(in_kg, exactly(kg), WeightUnit::kKg, VehicleCount::kFour);
    ASSERT_EQ(a->size(), b->size());
    for (size_t i = 0; i < a->size(); ++i) EXPECT_EQ((*a)[i].verdict, (*b)[i].verdict) << lb;
  }
}

// Steel strapping and cordage in both printed columns, to the rounding of the smaller one: 5 kg on
// ropes and strapping, as printed (393.108; kg columns from memory).
TEST(UnitSystems, PrintedPairsAgree) {
  for (const auto material :
       {TiedownMaterial::kManila, TiedownMaterial::kPolypropylene, TiedownMaterial::kPolyester,
        TiedownMaterial::kNylon, TiedownMaterial::kDoubleNylon})
    for (const int64_t um : {10'000, 11'000, 13'000, 16'000, 20'000, 25'000}) {
      const auto printed = printed_wll(material, um);
      ASSERT_TRUE(printed);
      EXPECT_NEAR(printed->lb * kKgPerLb, printed->kg, 7.5) << um;
    }
  for (const int64_t um : {740, 890, 1'120, 1'500}) {
    const auto printed = printed_strapping_wll(31'700, um);
    ASSERT_TRUE(printed);
    EXPECT_NEAR(printed->lb * kKgPerLb, printed->kg, 5) << um;
  }
}

}  // namespace
}  // namespace fairlead::physics
