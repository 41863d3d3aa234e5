// SPDX-License-Identifier: GPL-3.0-or-later
// What a meter's display means for the record: the table in plugins/clamp/README.md, row by row.
#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <iterator>
#include <limits>

#include "daemon/record/observation_ranges.h"
#include "plugins/clamp/config.h"
#include "plugins/clamp/protocol.h"

namespace fairlead::clamp {
namespace {

constexpr double kInfinite = std::numeric_limits<double>::infinity();

TEST(ClampTest, ADisplayIsASampleWithItsSign) {
  for (double value : {0.0, 12.64, -12.7}) {
    Taken taken = take({.kind = Shown::kVolts, .value = value});
    EXPECT_EQ(taken.gap, "");
    EXPECT_EQ(taken.value, value);
    EXPECT_EQ(taken.quality, v1::Quality::GOOD);
  }
}

TEST(ClampTest, OverloadIsTheEndOfTheRecordsRangeAndUnknown) {
  EXPECT_EQ(kMostVolts, record::range_of_signal("clamp.volts")->hi);
  EXPECT_EQ(kMostAmps, record::range_of_signal("clamp.amps")->hi);
  Taken volts = take({.kind = Shown::kVolts, .value = -kInfinite});
  EXPECT_EQ(volts.value, -100);
  EXPECT_EQ(volts.quality, v1::Quality::OVERLOAD);
  Taken amps = take({.kind = Shown::kAmps, .value = kInfinite, .low_battery = true});
  EXPECT_EQ(amps.value, 3000);
  EXPECT_EQ(amps.quality, v1::Quality::OVERLOAD) << "overload says more than a low battery";
}

TEST(ClampTest, ALowBatteryMakesSuspect) {
  EXPECT_EQ(take({.kind = Shown::kVolts, .value = 12, .low_battery = true}).quality,
            v1::Quality::SUSPECT);
}

TEST(ClampTest, WhatIsNotMeasuredNowIsAGap) {
  EXPECT_NE(take({.kind = Shown::kVolts, .value = 12, .ac = true}).gap.find("AC volts"),
            std::string::npos);
  EXPECT_NE(take({.kind = Shown::kAmps, .value = 12, .ac = true}).gap.find("AC amps"),
            std::string::npos);
  EXPECT_NE(take({.kind = Shown::kVolts, .value = 1, .diode = true}).gap.find("diode"),
            std::string::npos);
  EXPECT_NE(take({.kind = Shown::kVolts, .value = 12, .held = true}).gap.find("held"),
            std::string::npos);
  EXPECT_NE(take({.kind = Shown::kOther, .what = "resistance"}).gap.find("resistance"),
            std::string::npos);
  EXPECT_NE(take({.kind = Shown::kVolts, .value = std::nan("")}).gap, "");
  EXPECT_NE(take({.kind = Shown::kVolts, .value = 12, .doubtful = true}).gap.find("digit"),
            std::string::npos);
}

TEST(ClampTest, BothOffIsAMistakeAndADriverIsRequired) {
  Settings settings;
  sdk::Problems problems = read_settings("volts = \"off\"\namps = \"off\"\n", settings);
  ASSERT_EQ(problems.size(), 2U);
  EXPECT_EQ(problems[0].field(), "driver");
  EXPECT_EQ(problems[1].field(), "amps");
  settings = {};
  EXPECT_TRUE(read_settings("driver = \"demo\"\namps = \"off\"\n", settings).empty());
  ASSERT_EQ(channels_of(settings).size(), 1U);
  EXPECT_EQ(channels_of(settings)[0].signal(), "clamp.volts");
}

}  // namespace
}  // namespace fairlead::clamp
