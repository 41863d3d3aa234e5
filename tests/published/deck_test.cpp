// Geometry at the deck's edge. No printed examples are at hand: the definitions of the angles are
// those of SAE J689 and J1100 [M], values [C], and the formulas are held against a car moved step
// by step over a bent way.
#include "daemon/physics/deck.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace fairlead::physics {
namespace {

constexpr double kRadian = std::numbers::pi / 180;

Underside car(double wheelbase, double front, double rear, double clearance, double radius = 0) {
  return {.wheelbase_m = wheelbase,
          .front_overhang_m = front,
          .rear_overhang_m = rear,
          .clearance_m = exactly(clearance),
          .wheel_radius_m = radius};
}

struct Point {
  double x, y;
};

// A way that is level up to x = 0 and then has a slope; the place `along` metres past the bend.
Point on_way(double along, double slope_deg) {
  if (along <= 0) return {along, 0};
  return {along * std::cos(slope_deg * kRadian), along * std::sin(slope_deg * kRadian)};
}

// Signed distance of a point from the way: what it stands above the nearer of the two lines.
double above_way(const Point& p, double slope_deg) {
  const double slope = slope_deg * kRadian;
  const double off_slope = -p.x * std::sin(slope) + p.y * std::cos(slope);
  return slope_deg >= 0 ? std::min(p.y, off_slope) : std::max(p.y, off_slope);
}

// Least room of the underside while the car, wheels as points, is moved across the bend.
double least_room_by_steps(const Underside& c, double slope_deg) {
  double least = 1e9;
  const double far = c.wheelbase_m + c.front_overhang_m + c.rear_overhang_m;
  for (double along = -1; along <= far; along += 0.004) {
    const Point front = on_way(along, slope_deg);
    // The rear wheel: on the way, one wheelbase from the front.
    double lo = along - 2 * c.wheelbase_m, hi = along;
    for (int i = 0; i < 50; ++i) {
      const double middle = (lo + hi) / 2;
      const Point p = on_way(middle, slope_deg);
      (std::hypot(front.x - p.x, front.y - p.y) > c.wheelbase_m ? lo : hi) = middle;
    }
    const Point rear = on_way(lo, slope_deg);
    const double ux = (front.x - rear.x) / c.wheelbase_m, uy = (front.y - rear.y) / c.wheelbase_m;
    for (double t = -c.rear_overhang_m; t <= c.wheelbase_m + c.front_overhang_m; t += 0.01) {
      const Point p{rear.x + t * ux - c.clearance_m.lo * uy,
                    rear.y + t * uy + c.clearance_m.lo * ux};
      least = std::min(least, above_way(p, slope_deg));
    }
  }
  return least;
}

TEST(KinkRoom, AgreesWithACarMovedByStepsUp) {
  for (const auto& c : {car(2.56, 0.82, 0.70, 0.14), car(3.65, 1.00, 1.25, 0.25)}) {
    for (const double deg : {4.0, 8.0, 11.0, 16.0, 24.0}) {
      const auto room = kink_room(c, exactly(deg));
      ASSERT_TRUE(room);
      EXPECT_NEAR(room->least_m().lo, least_room_by_steps(c, deg), 4e-3) << deg;
      EXPECT_FALSE(room->break_over_m);
    }
  }
}

TEST(KinkRoom, AgreesWithACarMovedByStepsDown) {
  for (const auto& c : {car(2.56, 0.82, 0.70, 0.14), car(3.65, 1.00, 1.25, 0.25)}) {
    for (const double deg : {4.0, 8.0, 11.0, 16.0}) {
      const auto room = kink_room(c, exactly(-deg));
      ASSERT_TRUE(room && room->break_over_m);
      // The crest measured square to the car; by steps square to the slopes: less by its cosine.
      EXPECT_NEAR(room->break_over_m->lo * std::cos(deg / 2 * kRadian),
                  least_room_by_steps(c, -deg), 4e-3)
          << deg;
      EXPECT_FALSE(room->approach_m);
    }
  }
}

// At its own angles a car just touches: SAE J689 and J1100 [M].
TEST(UndersideAngles, Definitions) {
  const Underside c = car(2.56, 0.82, 0.70, 0.14);
  const auto angles = underside_angles(c);
  ASSERT_TRUE(angles);
  EXPECT_NEAR(angles->approach_deg.lo, std::atan(0.14 / 0.82) / kRadian, 1e-9);
  EXPECT_NEAR(angles->departure_deg.lo, std::atan(0.14 / 0.70) / kRadian, 1e-9);
  EXPECT_NEAR(angles->break_over_deg.lo, 2 * std::atan(2 * 0.14 / 2.56) / kRadian, 1e-9);
  EXPECT_NEAR(kink_room(c, angles->approach_deg)->approach_m->lo, 0, 1e-9);
  EXPECT_NEAR(kink_room(c, exactly(-angles->break_over_deg.lo))->break_over_m->lo, 0, 1e-9);
  // A wheel of known size gives room, never takes it.
  const Underside rolled = car(2.56, 0.82, 0.70, 0.14, 0.32);
  EXPECT_GT(underside_angles(rolled)->approach_deg.lo, angles->approach_deg.lo);
  EXPECT_NEAR(kink_room(rolled, underside_angles(rolled)->approach_deg)->approach_m->lo, 0, 1e-9);
}

// The invented fleet at a deck tilted 11 degrees [C]: the pickup clears, the low hatch does not and
// does with ramps of 6 degrees.
TEST(WayRoom, RampsSplitTheKink) {
  const Way bare{.ground_deg = exactly(0), .ramp_deg = {}, .deck_deg = exactly(11)};
  const Way ramps{.ground_deg = exactly(0), .ramp_deg = exactly(6), .deck_deg = exactly(11)};
  const Underside hatch = car(2.56, 0.82, 0.70, 0.14), pickup = car(3.65, 1.00, 1.25, 0.25);
  EXPECT_LT(way_room(hatch, bare)->front().least_m().hi, 0);
  EXPECT_GT(way_room(pickup, bare)->front().least_m().lo, 0);
  const auto both_kinks = way_room(hatch, ramps);
  ASSERT_TRUE(both_kinks);
  ASSERT_EQ(both_kinks->size(), 2u);
  for (const KinkRoom& room : *both_kinks) EXPECT_GT(room.least_m().lo, 0);
  const auto steepest = steepest_way_deg(hatch, 0);
  ASSERT_TRUE(steepest);
  EXPECT_NEAR(kink_room(hatch, *steepest)->least_m().lo, 0, 1e-9);
  // A steeper ramp than the deck makes a crest.
  const Way crest{.ground_deg = exactly(0), .ramp_deg = exactly(20), .deck_deg = exactly(8)};
  EXPECT_TRUE(way_room(pickup, crest)->back().break_over_m);
}

TEST(KinkRoom, FuzzyInputsWiden) {
  Underside c = car(2.56, 0.82, 0.70, 0.14);
  c.clearance_m = {0.12, 0.16};
  const auto room = kink_room(c, {9, 13});
  ASSERT_TRUE(room);
  EXPECT_DOUBLE_EQ(room->approach_m->lo,
                   kink_room(car(2.56, 0.82, 0.70, 0.12), exactly(13))->approach_m->lo);
  EXPECT_DOUBLE_EQ(room->approach_m->hi,
                   kink_room(car(2.56, 0.82, 0.70, 0.16), exactly(9))->approach_m->hi);
  EXPECT_EQ(verdict_of(room->least_m()), Verdict::kUnproven);
  // A kink that may go either way is checked for both.
  const auto either_way = kink_room(c, {-2, 3});
  EXPECT_TRUE(either_way->approach_m && either_way->break_over_m);
  // No kink: the whole clearance.
  EXPECT_DOUBLE_EQ(kink_room(car(2.56, 0.82, 0.7, 0.14), exactly(0))->least_m().lo, 0.14);
}

// The fleet: a deck of 5.79 m for a car that asks for 6.40 m is 0.61 m short.
TEST(DeckFit, LengthAndOverhang) {
  const auto fit = deck_fit(5.79, 6.40, 5.90, 0.25);
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->length_margin_m, -0.61, 1e-12);
  EXPECT_NEAR(fit->overhang_m, 0.36, 1e-12);
  EXPECT_EQ(deck_fit(6.40, 6.40, 5.90, 0.25)->length_margin_m, 0);
  EXPECT_EQ(deck_fit(6.40, 6.40, 5.90, 0.25)->overhang_m, 0);
}

TEST(Deck, RefusesNonsense) {
  const double nan = std::nan("");
  EXPECT_FALSE(kink_room(car(nan, 1, 1, 0.2), exactly(5)));
  EXPECT_FALSE(kink_room(car(2.5, -1, 1, 0.2), exactly(5)));
  EXPECT_FALSE(kink_room(car(2.5, 1, 1, 0.2), exactly(90)));
  EXPECT_FALSE(kink_room(car(2.5, 1, 1, 0.2), exactly(nan)));
  EXPECT_FALSE(deck_fit(nan, 1, 1, 0));
  EXPECT_FALSE(deck_fit(5, 5, -1, 0));
}

}  // namespace
}  // namespace fairlead::physics
