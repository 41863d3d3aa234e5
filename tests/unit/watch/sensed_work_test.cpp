// Work sensed without a job: which readings count as work and which do not. The thresholds are our
// choices, written out in sensed_work.h; what must hold is that work counts once however the strips
// were cut, and that noise, bumps and readings of no worth count not at all.
#include "daemon/watch/sensed_work.h"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>

namespace fairlead::watch {
namespace {

constexpr int64_t kSecond = 1'000'000;

record::StripLane lane_of(const std::string& signal, double from_s, double to_s, double every_s,
                          const std::function<double(double)>& value, double resolution = 1) {
  record::StripLane lane;
  lane.source = "line";
  lane.signal = signal;
  lane.resolution = resolution;
  for (double t = from_s; t < to_s - 1e-9; t += every_s) {
    lane.time_us.push_back(std::llround(t * 1e6));
    lane.value.push_back(std::llround(value(t) / resolution));
    lane.seq.push_back(static_cast<int64_t>(lane.seq.size()) + 1);
  }
  return lane;
}

// The same signal cut into strips of 10 s.
std::vector<std::vector<SensedStretch>> pieces(const std::string& signal, double to_s,
                                               const std::function<double(double)>& value,
                                               double resolution = 1) {
  WorkSensor sensor;
  std::vector<SensedStretch> all;
  for (double from = 0; from < to_s; from += 10) {
    const auto lane = lane_of(signal, from, std::min(from + 10, to_s), 0.1, value, resolution);
    const auto found = sensor.take({&lane, 1});
    all.insert(all.end(), found.begin(), found.end());
  }
  return pieces_of_work(all);
}

bool within(double t, double from, double to) { return t >= from && t < to; }

TEST(SensedWork, APullCountsOnceHoweverTheStripsWereCut) {
  const auto found = pieces("line.pull", 60, [](double t) {
    return within(t, 8.5, 31.5) ? 2'600 + 400 * std::sin(t) : 12;
  });
  ASSERT_EQ(found.size(), 1U);
  ASSERT_EQ(found[0].size(), 1U);
  EXPECT_NEAR(static_cast<double>(found[0][0].from_us), 8.5e6, 1e5);
  EXPECT_NEAR(static_cast<double>(found[0][0].to_us), 31.4e6, 1e5);
  EXPECT_NEAR(found[0][0].most, 3'000, 5);
  EXPECT_EQ(sensed_words(found[0][0]), "line pull up to 3.0 kN");
}

TEST(SensedWork, ABumpIsNoWorkAndTwoSecondsAcrossAStripsEdgeAre) {
  EXPECT_TRUE(
      pieces("line.pull", 30, [](double t) { return within(t, 5, 6.5) ? 900.0 : 0.0; }).empty());
  EXPECT_EQ(
      pieces("line.pull", 30, [](double t) { return within(t, 8.8, 11.2) ? 900.0 : 0.0; }).size(),
      1U);
}

TEST(SensedWork, PullsFiveMinutesApartAreOneWorkAndSixMinutesAreTwo) {
  const auto two = [](double gap_s) {
    return pieces("line.pull", 30 + gap_s,
                  [gap_s](double t) {
                    return within(t, 5, 10) || within(t, 10 + gap_s, 15 + gap_s) ? 1'000.0 : 0.0;
                  })
        .size();
  };
  EXPECT_EQ(two(299), 1U);
  EXPECT_EQ(two(361), 2U);
}

TEST(SensedWork, ASlowRopeIsSeenAndItsNoiseIsNot) {
  // 0.1 m/s is 6 m/min; noise of +-0.2 m is four times the default s.d. of 50 mm.
  const auto ran = pieces(
      "line.out", 60, [](double t) { return 20 - 0.1 * std::clamp(t - 10, 0.0, 40.0); }, 0.001);
  ASSERT_EQ(ran.size(), 1U);
  EXPECT_NEAR(ran[0][0].most, 4.0, 0.6);
  EXPECT_TRUE(
      pieces("line.out", 300, [](double t) { return 20 + 0.2 * std::sin(37 * t); }, 0.001).empty());
}

TEST(SensedWork, TiltAndCurrentCountAsWork) {
  EXPECT_EQ(pieces(
                "deck.tilt", 40, [](double t) { return within(t, 10, 30) ? 11.0 : 0.0; }, 0.001)
                .size(),
            1U);
  EXPECT_TRUE(pieces("deck.tilt", 40, [](double t) { return 2 * std::sin(t); }, 0.001).empty());
  EXPECT_EQ(pieces(
                "clamp.amps", 40, [](double t) { return within(t, 10, 20) ? -80.0 : 0.0; }, 0.001)
                .size(),
            1U);
}

TEST(SensedWork, ReadingsOfAJobOrOfNoWorthDoNotCount) {
  const auto pull = [](double) { return 3'000.0; };
  auto lane = lane_of("line.pull", 0, 10, 0.1, pull);
  lane.job = "J-1";
  EXPECT_TRUE(WorkSensor().take({&lane, 1}).empty());
  lane.job.clear();
  lane.quality = v1::Quality::SUSPECT;
  EXPECT_TRUE(WorkSensor().take({&lane, 1}).empty());
  lane.quality = v1::Quality::GOOD;
  EXPECT_EQ(WorkSensor().take({&lane, 1}).size(), 1U);
  const auto other = lane_of("battery.temp", 0, 10, 0.1, pull);
  EXPECT_TRUE(WorkSensor().take({&other, 1}).empty());
}

}  // namespace
}  // namespace fairlead::watch
