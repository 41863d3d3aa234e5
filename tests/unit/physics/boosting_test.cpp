// What no figure may do to the arithmetic of jump starting; no source beyond the definitions.
#include <gtest/gtest.h>

#include <limits>

#include "daemon/physics/boosting_class.h"
#include "daemon/physics/boosting_order.h"
#include "daemon/physics/boosting_rest.h"

namespace fairlead::physics {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

TEST(Boosting, RefusesNonsense) {
  for (const double bad : {kNan, kNoBound, -kNoBound, 1e300}) {
    EXPECT_FALSE(check_window(exactly(bad), 11, 15));
    EXPECT_FALSE(check_window(exactly(12), bad, 15));
    EXPECT_FALSE(check_window(exactly(12), 11, bad));
    EXPECT_FALSE(bands_48(exactly(bad)));
    EXPECT_FALSE(charge_at_rest(RestTable::kTypical, exactly(bad), 24));
    EXPECT_FALSE(charge_at_rest_of_all(exactly(bad), 24));
    EXPECT_EQ(hint_at(exactly(bad), VoltageClass::k12) == Hint::kNone, bad != -kNoBound);
    ClampTimes times;
    times[1] = exactly(bad);
    EXPECT_FALSE(check_connecting(times));
    EXPECT_FALSE(check_disconnecting(times));
  }
  EXPECT_FALSE(check_window(exactly(12), 15, 11));
  EXPECT_FALSE(charge_at_rest(RestTable::kTypical, exactly(12), -1));
  EXPECT_FALSE(charge_at_rest(RestTable::kTypical, exactly(25), 24));
}

// A higher reading never means less charge, and a wider one never a narrower answer.
TEST(Boosting, ChargeGrowsWithVolts) {
  for (const RestTable table : {RestTable::kTypical, RestTable::kVariantA, RestTable::kVariantB}) {
    Interval before{0, 0};
    for (double volts = 10; volts < 14; volts += 0.01) {
      const Interval now = charge_at_rest(table, exactly(volts), 24)->charge;
      EXPECT_GE(now.lo, before.lo);
      EXPECT_GE(now.hi, before.hi);
      const Interval wide = charge_at_rest(table, plus_minus(volts, 0.1), 24)->charge;
      EXPECT_LE(wide.lo, now.lo);
      EXPECT_GE(wide.hi, now.hi);
      const Interval all = charge_at_rest_of_all(exactly(volts), 24)->charge;
      EXPECT_LE(all.lo, now.lo);
      EXPECT_GE(all.hi, now.hi);
      before = now;
    }
  }
}

// Later by d in the ground clamp's connection is d more of its margin, while it decides.
TEST(Boosting, OrderShifts) {
  const ClampTimes times{exactly(0), exactly(5), exactly(9), exactly(12)};
  for (const double d : {-7.0, -3.0, 0.0, 4.0}) {
    ClampTimes shifted = times;
    shifted[3] = exactly(12 + d);
    EXPECT_EQ(check_connecting(shifted)->front().margin, exactly(3 + d));
  }
}

}  // namespace
}  // namespace fairlead::physics
