// Detectors: what volts, amps, pull and rope tell, and what they cannot. Thresholds are choices of
// ours (common practice, no source) and stand in the detectors' headers; the test goes along their
// edges. The 12 V band 9 to 16 V and the 24 V band 22 to 32 V are codes C and G of ISO
// 16750-2:2010; both lie inside the classes.
#include <gtest/gtest.h>

#include "daemon/judge/instrument_boost.h"
#include "daemon/judge/instrument_facts.h"
#include "daemon/judge/instrument_hold.h"
#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kSecond = 1'000'000;
constexpr int64_t kHoleUs = 2 * kSecond;

/// One reading every 100 ms from 0 s on: (value, how many readings).
Series readings(const std::vector<std::pair<int64_t, int>>& runs, int64_t step_us = 100'000) {
  Series series;
  int64_t now_us = 0;
  for (const auto& [value, count] : runs) {
    for (int i = 0; i < count; ++i, now_us += step_us)
      series.pieces.push_back({now_us, now_us + step_us, value, value, value, 0, kNoLine});
  }
  if (!series.pieces.empty()) series.pieces.back().to_us += kHoleUs;
  return series;
}

/// Times at which the fact becomes true, false (negative: -1 - time), in tenths of a second.
std::vector<int64_t> edges(const Timeline& timeline) {
  std::vector<int64_t> found;
  Tri last = Tri::kUnknown;
  for (const Change& change : timeline.changes()) {
    const int64_t tenths = change.at.time_us / 100'000;
    if (change.value == Tri::kTrue) found.push_back(tenths);
    if (change.value == Tri::kFalse && last == Tri::kTrue) found.push_back(-1 - tenths);
    last = change.value;
  }
  return found;
}

using Edges = std::vector<int64_t>;
const JobLines kNoLines({}, "");

Timeline of_volts(std::string_view fact, const Series& volts) {
  return boost_reading(fact, volts, {}, kNoLines);
}

TEST(BoostReading, ConnectionAndRemovalHaveHysteresis) {
  const Series volts =
      readings({{0, 20}, {3'000, 15}, {1'500, 30}, {900, 5}, {1'200, 10}, {900, 15}});
  // On at 2.0 s; 1.5 V keeps it on; 0.9 V for 0.5 s does too; off when 0.9 V lasts, from 8.0 s.
  EXPECT_EQ(edges(of_volts("clamp.connected", volts)), (Edges{20, -1 - 80}));
  // 3 V for 0.9 s is no connection.
  EXPECT_TRUE(edges(of_volts("clamp.connected", readings({{0, 20}, {3'000, 9}, {0, 20}}))).empty());
}

TEST(BoostReading, AReversedConnectionShowsAndCountsAsOne) {
  const Series volts = readings({{0, 20}, {-11'500, 30}, {0, 30}});
  EXPECT_EQ(edges(of_volts("clamp.reversed", volts)), (Edges{20, -1 - 50}));
  EXPECT_EQ(edges(of_volts("clamp.connected", volts)), (Edges{20, -1 - 50}));
  EXPECT_TRUE(edges(of_volts("clamp.reversed", readings({{-400, 50}, {12'000, 50}}))).empty());
  // A spike of one reading is none.
  EXPECT_TRUE(edges(of_volts("clamp.reversed", readings({{0, 20}, {-5'000, 1}, {0, 20}}))).empty());
}

TEST(BoostReading, AShortNeedsCurrentWithoutVoltage) {
  const Series low = readings({{12'600, 20}, {700, 10}, {12'000, 30}});
  const Series amps = readings({{5'000, 20}, {180'000, 10}, {5'000, 30}});
  EXPECT_EQ(edges(boost_reading("clamp.shorted", low, amps, kNoLines)), (Edges{20, -1 - 30}));
  // The same current at 12 V is a car that takes it.
  const Series high = readings({{12'600, 60}});
  EXPECT_TRUE(edges(boost_reading("clamp.shorted", high, amps, kNoLines)).empty());
  EXPECT_EQ(edges(boost_reading("clamp.surge", high, amps, kNoLines)), (Edges{20, -1 - 30}));
  // No ammeter: unknown, not "never".
  EXPECT_FALSE(boost_reading("clamp.shorted", high, {}, kNoLines).named());
}

TEST(BoostReading, SourceClassesAndRecovery) {
  const Series volts =
      readings({{0, 20}, {12'600, 60}, {25'800, 90}, {13'300, 60}, {12'900, 60}, {12'500, 60}});
  EXPECT_EQ(edges(of_volts("source.class:12", volts)), (Edges{20, -1 - 80, 170}));
  EXPECT_EQ(edges(of_volts("source.class:24", volts)), (Edges{80, -1 - 170}));
  EXPECT_TRUE(edges(of_volts("source.class:48", volts)).empty());
  EXPECT_EQ(edges(of_volts("source.class:48", readings({{52'000, 20}}))), (Edges{0}));
  // 13.2 V or more from 25.8 V on; 12.9 V keeps it, 12.5 V ends it.
  EXPECT_EQ(edges(of_volts("clamp.recovered", volts)), (Edges{80, -1 - 290}));
}

TEST(BoostReading, UnknownInAHole) {
  Series volts = readings({{12'600, 20}});
  const Series later = readings({{12'600, 20}});
  for (Piece piece : later.pieces) {
    piece.from_us += 10 * kSecond;
    piece.to_us += 10 * kSecond;
    volts.pieces.push_back(piece);
  }
  const Timeline connected = of_volts("clamp.connected", volts);
  EXPECT_EQ(connected.at(kSecond), Tri::kTrue);
  EXPECT_EQ(connected.at(6 * kSecond), Tri::kUnknown);
  EXPECT_EQ(connected.at(11 * kSecond), Tri::kTrue);
}

TEST(PullReading, TautPullingSlack) {
  const Series pull = readings({{60, 20}, {700, 30}, {200, 20}, {100, 5}, {400, 20}, {100, 20}});
  EXPECT_EQ(edges(pull_timeline(pull, kNoLines, 500, 2'000'000)), (Edges{20, -1 - 95}));
  EXPECT_EQ(
      edges(pull_timeline(readings({{60, 20}, {700, 19}, {60, 20}}), kNoLines, 500, 2'000'000)),
      Edges{});
}

TEST(HoldReading, HoldsWhileTheRopeStands) {
  const Series pull = readings({{6'000, 200}});
  Series rope = readings({{5'000, 100}});
  for (int i = 0; i < 100; ++i) {  // From 10 s on 0.2 m/s: 0.3 m are passed after 1.6 s.
    const int64_t from_us = 10 * kSecond + i * 100'000, out_mm = 5'000 + 20 * i;
    rope.pieces.back().to_us = std::min(rope.pieces.back().to_us, from_us);
    rope.pieces.push_back({from_us, from_us + 100'000, out_mm, out_mm, out_mm, 0, kNoLine});
  }
  EXPECT_EQ(edges(hold_timeline(pull, rope, kNoLines)), (Edges{0, -1 - 116}));
  EXPECT_FALSE(hold_timeline(pull, {}, kNoLines).named());
  EXPECT_TRUE(
      edges(hold_timeline(readings({{300, 100}}), readings({{5'000, 100}}), kNoLines)).empty());
}

}  // namespace
}  // namespace fairlead::judge
