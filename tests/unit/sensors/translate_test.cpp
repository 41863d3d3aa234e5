// Readings of plugins as observations. Units and sane ranges: the project's vocabulary (line.pull N
// -5 k..1 M, line.out m, ...); what a reading must never do is get lost or pass as something it is
// not.
#include "daemon/sensors/translate.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "daemon/record/observation_check.h"

namespace fairlead::sensors {
namespace {

constexpr int64_t kNoon = 1'772'445'600'000'000;  // 2026-03-02T10:00:00Z

v1::PluginChannel channel(const std::string& source, const std::string& signal,
                          const std::string& unit) {
  v1::PluginChannel c;
  c.set_source(source);
  c.set_signal(signal);
  c.set_unit(unit);
  return c;
}

v1::PluginReading reading(double value, v1::Quality::Word quality = v1::Quality::GOOD) {
  v1::PluginReading r;
  r.set_wall_us(kNoon);
  r.set_quality(quality);
  r.set_value(value);
  return r;
}

// As the recorder completes it.
bool sane(v1::Observation o) {
  EXPECT_EQ(o.seq(), 0U) << "the recorder gives it";
  o.set_seq(1);
  return record::check_observation(o).has_value();
}

std::string problem_of(const v1::PluginChannel& c) {
  v1::PluginDescribed d;
  *d.add_channels() = c;
  auto ok = check_channels(d);
  return ok ? "" : ok.error().message;
}

TEST(TranslateTest, ASampleKeepsItsValueTimeAndSource) {
  auto o = to_observation(reading(8900.5), channel("line", "line.pull", "N"), "truck");
  EXPECT_EQ(o.time(), "2026-03-02T10:00:00.000000Z");
  EXPECT_EQ(o.source(), "line");
  EXPECT_EQ(o.clock(), "truck");
  EXPECT_EQ(o.sample().signal(), "line.pull");
  EXPECT_EQ(o.sample().value(), 8900.5);
  EXPECT_FALSE(o.has_quality()) << "GOOD is not written";
  EXPECT_TRUE(sane(o));
}

TEST(TranslateTest, AValueNoInstrumentShowsBecomesAGapThatQuotesIt) {
  auto o = to_observation(reading(2e6), channel("line", "line.pull", "N"), "truck");
  ASSERT_TRUE(o.has_gap());
  EXPECT_EQ(o.gap().channel(), "line.pull");
  EXPECT_EQ(o.gap().lost(), 1U);
  EXPECT_NE(o.gap().cause().find("2000000"), std::string::npos) << o.gap().cause();
  EXPECT_TRUE(sane(o));
}

TEST(TranslateTest, NotANumberNeverPasses) {
  for (double bad : {std::nan(""), std::numeric_limits<double>::infinity(),
                     -std::numeric_limits<double>::infinity()}) {
    auto good = to_observation(reading(bad), channel("line", "line.pull", "N"), "truck");
    EXPECT_TRUE(good.has_gap());
    auto broken = to_observation(reading(bad, v1::Quality::BROKEN),
                                 channel("line", "line.pull", "N"), "truck");
    EXPECT_TRUE(std::isfinite(broken.sample().value()));
    EXPECT_TRUE(sane(broken));
  }
}

TEST(TranslateTest, AnOverloadKeepsItsQualityAndIsBroughtIntoRange) {
  auto o = to_observation(reading(9e9, v1::Quality::OVERLOAD), channel("line", "line.pull", "N"),
                          "truck");
  EXPECT_EQ(o.quality(), v1::Quality::OVERLOAD);
  EXPECT_EQ(o.sample().value(), 1'000'000);
  EXPECT_TRUE(sane(o));
}

TEST(TranslateTest, UnknownQualityIsSuspect) {
  auto o = to_observation(reading(1, static_cast<v1::Quality::Word>(77)),
                          channel("line", "line.pull", "N"), "truck");
  EXPECT_EQ(o.quality(), v1::Quality::SUSPECT);
}

TEST(TranslateTest, AFixOnASignalsChannelAndTheOtherWayRoundAreGaps) {
  v1::PluginReading fix = reading(0);
  fix.mutable_fix()->set_mode(3);
  EXPECT_TRUE(to_observation(fix, channel("line", "line.pull", "N"), "truck").has_gap());
  EXPECT_TRUE(to_observation(fix, channel("gps.truck", "fix", "fix"), "truck").has_fix());
  EXPECT_TRUE(to_observation(reading(1), channel("gps.truck", "fix", "fix"), "truck").has_gap());
}

TEST(TranslateTest, ChannelsAreCheckedFieldByField) {
  EXPECT_EQ(problem_of(channel("line", "line.pull", "N")), "");
  EXPECT_EQ(problem_of(channel("clamp", "clamp.pos.contact", "1")), "");
  EXPECT_EQ(problem_of(channel("line", "line.pul", "N")),
            "channels[0].signal: \"line.pul\" is unknown; did you mean \"line.pull\"?");
  EXPECT_EQ(problem_of(channel("line", "line.pull", "kN")),
            "channels[0].unit: line.pull is recorded in N, not in \"kN\"; convert in the plugin");
  EXPECT_NE(problem_of(channel("operator", "line.pull", "N")).find("is a person's"),
            std::string::npos);
  EXPECT_NE(problem_of(channel("Line\n", "line.pull", "N")).find("channels[0].source"),
            std::string::npos);
  v1::PluginDescribed twice;
  *twice.add_channels() = channel("line", "line.pull", "N");
  *twice.add_channels() = channel("line", "line.pull", "N");
  EXPECT_FALSE(check_channels(twice));
  EXPECT_FALSE(check_channels(v1::PluginDescribed())) << "no channel at all";
}

TEST(TranslateTest, BatchesAreChecked) {
  v1::PluginBatch batch;
  *batch.add_readings() = reading(1);
  EXPECT_TRUE(check_batch(batch, 1));
  batch.mutable_readings(0)->set_channel(1);
  EXPECT_FALSE(check_batch(batch, 1)) << "a channel never described";
  batch.mutable_readings(0)->set_channel(0);
  batch.mutable_readings(0)->set_wall_us(-1);
  EXPECT_FALSE(check_batch(batch, 1));
  batch.mutable_readings(0)->set_wall_us(std::numeric_limits<int64_t>::max());
  EXPECT_FALSE(check_batch(batch, 1));
  batch.mutable_readings(0)->set_wall_us(kNoon);
  batch.mutable_readings(0)->clear_what();
  EXPECT_FALSE(check_batch(batch, 1)) << "a reading without content";
  v1::PluginBatch huge;
  for (int i = 0; i <= kMaxReadingsInBatch; ++i) *huge.add_readings() = reading(1);
  EXPECT_FALSE(check_batch(huge, 1));
}

TEST(TranslateTest, HostileWordsAreTamed) {
  EXPECT_EQ(tame("a\nb\x01", 100), "a?b?");
  EXPECT_EQ(tame("gr\xc3\xbc\xc3\x9f", 100), "gr\xc3\xbc\xc3\x9f");
  EXPECT_EQ(tame("gr\xc3\xbc\xc3\x9f", 5), "gr\xc3\xbc") << "no half character";
  EXPECT_EQ(tame("\xff\xfe", 100), "??");
  EXPECT_EQ(tame("", 100), "?");
}

}  // namespace
}  // namespace fairlead::sensors
