// Properties of the securement arithmetic on random loads: what must hold whatever the figures.
// The properties follow from the formulas (sums are linear, a maximum of nothing more is no less);
// no source beyond that.
#include "daemon/physics/securement.h"

#include <gtest/gtest.h>

#include <limits>
#include <random>

#include "daemon/physics/angles.h"
#include "daemon/physics/default_wll.h"
#include "daemon/physics/securement_defects.h"
#include "daemon/physics/securement_en12195.h"
#include "daemon/physics/securement_wll.h"

namespace fairlead::physics {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kHuge = 1e300;

class Loads : public testing::Test {
 protected:
  double any(double lo, double hi) { return std::uniform_real_distribution(lo, hi)(random_); }
  int one_of(int n) { return std::uniform_int_distribution(0, n - 1)(random_); }
  Interval fuzzy(double lo, double hi) {
    const double a = any(lo, hi);
    return {a, one_of(2) == 0 ? a : any(a, hi)};
  }
  PlacedTiedown any_tiedown(bool sound_one) {
    PlacedTiedown placed;
    placed.tiedown.name = "strap";
    placed.tiedown.path = static_cast<Path>(one_of(3));
    placed.end = static_cast<End>(one_of(3));
    for (int i = one_of(3); i >= 0; --i)
      placed.tiedown.parts.push_back({"part", fuzzy(200, 4000), Verdict::kMet, ""});
    if (!sound_one && one_of(3) == 0)
      placed.tiedown.parts[0].counts = one_of(2) == 0 ? Verdict::kUnproven : Verdict::kDeviated;
    if (one_of(2) == 0) placed.tiedown.anchor = Part{"anchor", fuzzy(200, 4000), {}, ""};
    for (int i = one_of(2); i >= 0; --i)
      placed.tiedown.legs.push_back({fuzzy(0, 90), fuzzy(-180, 180)});
    return placed;
  }
  VehicleLoad any_load() {
    VehicleLoad load{.weight = fuzzy(500, 6000), .tiedowns = {}};
    load.friction = fuzzy(0, 0.7);
    for (int i = one_of(6); i >= 0; --i) load.tiedowns.push_back(any_tiedown(false));
    return load;
  }
  std::mt19937_64 random_{20261129};
};

void expect_near(const Interval& a, const Interval& b, double tolerance) {
  EXPECT_NEAR(a.lo, b.lo, tolerance);
  EXPECT_NEAR(a.hi, b.hi, tolerance);
}

std::vector<Tiedown> bare(const VehicleLoad& load) {
  std::vector<Tiedown> all;
  for (const PlacedTiedown& one : load.tiedowns) all.push_back(one.tiedown);
  return all;
}

TEST_F(Loads, ScalingAllByKScalesMarginsByK) {
  for (int i = 0; i < 500; ++i) {
    const VehicleLoad load = any_load();
    const double k = any(0.1, 9);
    VehicleLoad scaled = load;
    scaled.weight = k * load.weight;
    for (PlacedTiedown& one : scaled.tiedowns) {
      for (Part& part : one.tiedown.parts) part.wll = k * part.wll;
      if (one.tiedown.anchor) one.tiedown.anchor->wll = k * one.tiedown.anchor->wll;
    }
    const auto a = check_aggregate(bare(load), load.weight, load.unit).value();
    const auto b = check_aggregate(bare(scaled), scaled.weight, scaled.unit).value();
    expect_near(b.margin, k * a.margin, 1e-8 * k);
    // Forces in g do not change at all.
    const auto g_a =
        g_capacity(restraints_of(load.tiedowns, load.unit), load.weight, load.friction);
    const auto g_b =
        g_capacity(restraints_of(scaled.tiedowns, scaled.unit), scaled.weight, scaled.friction);
    expect_near(g_a->forward, g_b->forward, 1e-9);
    expect_near(g_a->left, g_b->left, 1e-9);
    expect_near(g_a->down, g_b->down, 1e-9);
  }
}

TEST_F(Loads, AnotherSoundTiedownLowersNoMargin) {
  for (int i = 0; i < 500; ++i) {
    VehicleLoad load = any_load();
    load.weight = fuzzy(500, 4000);  // One count rule for both.
    for (const Jurisdiction jurisdiction : {Jurisdiction::kUnitedStates, Jurisdiction::kCanada,
                                            Jurisdiction::kEurope2003, Jurisdiction::kEurope2010}) {
      const auto before = check_securement(load, jurisdiction).value();
      VehicleLoad more = load;
      more.tiedowns.push_back(any_tiedown(true));
      const auto after = check_securement(more, jurisdiction).value();
      ASSERT_EQ(before.size(), after.size());
      for (size_t c = 0; c < before.size(); ++c) {
        EXPECT_GE(after[c].margin.lo, before[c].margin.lo) << before[c].what;
        EXPECT_GE(after[c].margin.hi, before[c].margin.hi) << before[c].what;
      }
    }
  }
}

TEST_F(Loads, NarrowerInputsNeverContradictWiderOnes) {
  const auto inside = [&](Interval& x) {
    const double a = any(x.lo, x.hi);
    x = {a, any(a, x.hi)};
  };
  for (int i = 0; i < 500; ++i) {
    const VehicleLoad wide = any_load();
    VehicleLoad narrow = wide;
    inside(narrow.weight);
    inside(narrow.friction);
    for (PlacedTiedown& one : narrow.tiedowns) {
      for (Part& part : one.tiedown.parts) inside(part.wll);
      for (Leg& leg : one.tiedown.legs) inside(leg.to_deck_deg), inside(leg.to_front_deg);
    }
    if (wide.weight.lo <= 4536 && wide.weight.hi > 4536) continue;  // Two rules against one.
    for (const Jurisdiction jurisdiction :
         {Jurisdiction::kUnitedStates, Jurisdiction::kEurope2010}) {
      const auto a = check_securement(wide, jurisdiction).value();
      const auto b = check_securement(narrow, jurisdiction).value();
      for (size_t c = 0; c < a.size(); ++c) {
        EXPECT_GE(b[c].margin.lo, a[c].margin.lo - 1e-9) << a[c].what;
        EXPECT_LE(b[c].margin.hi, a[c].margin.hi + 1e-9) << a[c].what;
      }
    }
  }
}

// 393.108 prints both columns; sums in one agree with those in the other to the printed rounding of
// each piece (the largest difference of a printed pair is 51 kg).
TEST_F(Loads, UnitSystemsAgreeToThePrintedRounding) {
  const TiedownMaterial kinds[] = {TiedownMaterial::kWebbing, TiedownMaterial::kChain30,
                                   TiedownMaterial::kChain43, TiedownMaterial::kChain70,
                                   TiedownMaterial::kWireRope};
  for (int i = 0; i < 300; ++i) {
    std::vector<Tiedown> kg, lb;
    for (int n = one_of(6); n >= 0; --n) {
      const auto printed = printed_wll(kinds[one_of(5)], 50'000 + one_of(60'000)).value();
      Tiedown one{.name = "strap",
                  .parts = {},
                  .anchor = {},
                  .path = static_cast<Path>(one_of(3)),
                  .legs = {}};
      one.parts = {{"strap", exactly(printed.kg), {}, ""}};
      kg.push_back(one);
      one.parts = {{"strap", exactly(printed.lb), {}, ""}};
      lb.push_back(one);
    }
    const double weight_kg = any(500, 4000);
    const auto a = check_aggregate(kg, exactly(weight_kg), WeightUnit::kKg).value();
    const auto b = check_aggregate(lb, exactly(weight_kg / kKgPerLb), WeightUnit::kLb).value();
    EXPECT_NEAR(a.margin.lo, b.margin.lo * kKgPerLb, 25.0 * static_cast<double>(kg.size()));
  }
}

TEST(Securement, RightAnglesAreExact) {
  const auto capacity = [](double to_deck, double to_front) {
    const Restraint one{.limit_n = exactly(kStandardGravity * 1000),
                        .legs = {{exactly(to_deck), exactly(to_front)}},
                        .pretension_n = exactly(0)};
    return g_capacity(std::vector{one}, exactly(1000), exactly(0)).value();
  };
  EXPECT_EQ(capacity(0, 180).forward, exactly(1));
  EXPECT_EQ(capacity(0, 180).rearward, exactly(0));
  EXPECT_EQ(capacity(0, 180).left, exactly(0));
  EXPECT_EQ(capacity(0, 0).rearward, exactly(1));
  EXPECT_EQ(capacity(0, 90).right, exactly(1));
  EXPECT_EQ(capacity(0, -90).left, exactly(1));
  EXPECT_EQ(capacity(90, 17).down, exactly(1));
  EXPECT_EQ(capacity(90, 17).forward, exactly(0));
  EXPECT_EQ(capacity(60, 180).forward, exactly(0.5));
}

TEST(Securement, VoidAndUnreadPieces) {
  Tiedown strap{.name = "strap", .parts = {{"strap", kUnread, {}, ""}}, .anchor = {}, .legs = {}};
  const auto verdict = [&] {
    return check_aggregate(std::vector{strap, strap, strap, strap}, exactly(2000), WeightUnit::kKg)
        .value();
  };
  EXPECT_EQ(verdict().verdict, Verdict::kUnproven);
  EXPECT_NE(verdict().words.find("unread"), std::string::npos);
  strap.parts[0] = {"strap", exactly(2000), Verdict::kUnproven, "scuffed"};
  EXPECT_EQ(verdict().verdict, Verdict::kUnproven);
  strap.parts[0] = {"strap", exactly(2000), Verdict::kDeviated, "out of date"};
  EXPECT_EQ(verdict().verdict, Verdict::kDeviated);
  EXPECT_NE(verdict().words.find("out of date"), std::string::npos);
  strap.parts.clear();
  EXPECT_EQ(verdict().verdict, Verdict::kUnproven);
  EXPECT_EQ(check_aggregate({}, exactly(0), WeightUnit::kKg)->margin, exactly(0));
}

TEST(Securement, RefusesNonsense) {
  for (const double bad : {-1.0, kNan, kHuge, kNoBound}) {
    EXPECT_FALSE(check_aggregate({}, exactly(bad), WeightUnit::kKg)) << bad;
    EXPECT_FALSE(check_vehicle_count({}, exactly(bad), WeightUnit::kKg, VehicleCount::kFour));
    EXPECT_FALSE(least_tiedowns_by_length(exactly(bad), exactly(1), false, WeightUnit::kKg));
    EXPECT_FALSE(least_tiedowns_by_length(exactly(1), exactly(bad), false, WeightUnit::kKg));
    EXPECT_FALSE(g_capacity({}, exactly(bad), exactly(0))) << bad;
    EXPECT_FALSE(g_capacity({}, exactly(1000), exactly(bad))) << bad;
    const OverTop good{exactly(2000), exactly(0.3), exactly(60), exactly(4000)};
    for (Interval OverTop::* field :
         {&OverTop::mass_kg, &OverTop::friction, &OverTop::to_deck_deg, &OverTop::pretension_n}) {
      OverTop load = good;
      load.*field = exactly(bad);
      EXPECT_FALSE(over_top_lashings(load, Force::kForward, Edition::k2010)) << bad;
    }
    EXPECT_FALSE(check_direct_lashing({exactly(bad), exactly(0), exactly(0), exactly(0)},
                                      exactly(1), Force::kForward, Edition::k2010));
    EXPECT_FALSE(vdi_total_pretension_n(exactly(bad), 0.8, exactly(0.3), 2, exactly(90)));
    EXPECT_FALSE(check_tilting_unlashed(exactly(bad), exactly(1), Force::kForward));
    Tiedown strap{.name = "s", .parts = {{"s", exactly(bad), {}, ""}}, .anchor = {}, .legs = {}};
    if (!(bad >= 0)) {
      EXPECT_FALSE(check_aggregate(std::vector{strap}, exactly(1), WeightUnit::kKg)) << bad;
    }
  }
  EXPECT_FALSE(g_capacity({}, exactly(0), exactly(0)));  // No g of no mass.
  EXPECT_EQ(over_top_lashings({exactly(0), exactly(0), exactly(60), exactly(0)}, Force::kForward,
                              Edition::k2010)
                ->number,
            exactly(0));
  const Restraint steep{
      .limit_n = exactly(1), .legs = {{exactly(91), exactly(0)}}, .pretension_n = exactly(0)};
  EXPECT_FALSE(g_capacity(std::vector{steep}, exactly(1000), exactly(0)));
}

// Whatever stands in a gear file: read without harm, and one more phrase never makes it better.
TEST_F(Loads, DefectsAreReadFromAnyText) {
  const char* words[] = {"knot",        "cut 3 mm",     "cut 12 mm", "cut",
                         "tear 1/2 in", "hole 0.1 in",  "faded",     "melted",
                         " ",           "cut 1e999 mm", "cut -3 mm", "hole nan mm",
                         "cut 9 cm",    "\xff\xfe",     ",;,",       "CRACKED"};
  for (int i = 0; i < 2000; ++i) {
    const std::string one = words[one_of(16)], other = words[one_of(16)];
    const double width = one_of(3) == 0 ? 0 : any(20, 120);
    const Verdict alone = judge_defect(one, width).counts;
    const DefectFinding joined = judge_defect(one + (one_of(2) ? ", " : ";") + other, width);
    EXPECT_GE(joined.counts, alone) << one << " | " << other;
    EXPECT_EQ(joined.counts, both(alone, judge_defect(other, width).counts));
    EXPECT_EQ(joined.counts == Verdict::kMet, joined.why.empty());
  }
}

// Statics: the tensions that equal straps take add up to the force, and a softer (longer) strap
// takes less.
TEST(Securement, SharesAddUp) {
  const Restraint straight{
      .limit_n = exactly(1e4), .legs = {{exactly(0), exactly(180)}}, .pretension_n = exactly(0)};
  Restraint slanted = straight, away = straight;
  slanted.legs[0].to_deck_deg = exactly(60);
  away.legs[0].to_front_deg = exactly(0);
  const std::vector all{straight, slanted, away, straight};
  const std::vector<double> length_m{1, 1, 1, 2};
  const auto tension = shares_at(all, length_m, Direction::kForward, 9000);
  EXPECT_NEAR(tension[0] + 0.5 * tension[1] + tension[3], 9000, 1e-9);
  EXPECT_EQ(tension[2], 0);
  EXPECT_NEAR(tension[3], tension[0] / 2, 1e-9);
  EXPECT_NEAR(tension[1], tension[0] / 2, 1e-9);
  // Two legs of one strap pull with one tension each, so they count twice.
  Restraint twice = straight;
  twice.legs = {{exactly(0), exactly(150)}, {exactly(0), exactly(-150)}};
  const auto pair =
      shares_at(std::vector{twice}, std::vector<double>{1}, Direction::kForward, 9000);
  EXPECT_NEAR(2 * cos_deg(30) * pair[0], 9000, 1e-9);
}

}  // namespace
}  // namespace fairlead::physics
