// What a person sees of the channels: worked by hand from the observations below.
#include "daemon/sensors/board.h"

#include <gtest/gtest.h>

#include "daemon/base/time_text.h"

namespace fairlead::sensors {
namespace {

constexpr int64_t kS = 1'000'000;

v1::Observation sample(double value, int64_t us, v1::Quality::Word quality = v1::Quality::UNSET) {
  v1::Observation o;
  o.set_source("line");
  o.set_time(format_time_us(us));
  o.set_quality(quality);
  o.mutable_sample()->set_signal("line.pull");
  o.mutable_sample()->set_value(value);
  return o;
}

v1::SensorView only(const v1::GetSensorsResponse& response) {
  EXPECT_EQ(response.sensor_size(), 1);
  return response.sensor_size() > 0 ? response.sensor(0) : v1::SensorView();
}

TEST(BoardTest, NewestValueAgeAndRate) {
  Board board;
  // Fifty a second for ten seconds: 250 lie within the last five.
  for (int i = 0; i < 500; ++i) board.see(sample(i, i * 20'000), i * 20'000);
  auto view = only(board.view({}, 499 * 20'000));
  EXPECT_EQ(view.value(), 499);
  EXPECT_EQ(view.unit(), "N");
  EXPECT_EQ(view.age_ms(), 0);
  EXPECT_NEAR(view.rate_hz(), 50, 0.01);
  EXPECT_EQ(view.quality(), v1::Quality::GOOD);
  EXPECT_EQ(view.sample_size(), 0) << "not asked for";
  // It falls silent: older, slower, then none.
  auto later = only(board.view({}, 499 * 20'000 + 2 * kS));
  EXPECT_EQ(later.age_ms(), 2000);
  EXPECT_NEAR(later.rate_hz(), 30, 0.5);
  EXPECT_EQ(only(board.view({}, 499 * 20'000 + 9 * kS)).rate_hz(), 0);
}

TEST(BoardTest, SamplesOfTheChannelAskedForAndBounded) {
  Board board;
  for (int i = 0; i < 2000; ++i) board.see(sample(i, i * 1000), i * 1000);
  v1::GetSensorsRequest request;
  request.set_source("line");
  request.set_channel("line.pull");
  auto view = only(board.view(request, 2 * kS));
  ASSERT_EQ(view.sample_size(), static_cast<int>(Board::kMostSamples));
  EXPECT_EQ(view.sample(view.sample_size() - 1).value(), 1999);
  EXPECT_EQ(view.sample(view.sample_size() - 1).wall_us(), 1'999'000);
  request.set_channel("line.out");
  EXPECT_EQ(only(board.view(request, 2 * kS)).sample_size(), 0);
}

TEST(BoardTest, AGapStandsUntilTheNextValueAndWordsStay) {
  Board board;
  v1::Observation o;
  o.set_source("line");
  o.mutable_sensor()->set_channel("line.pull");
  o.mutable_sensor()->set_state(
      "live; low-pass 100 ms; calibrated: C-17 of 2026-03-02; zero 1; span 2");
  board.see(o, 0);
  auto view = only(board.view({}, 0));
  EXPECT_EQ(view.age_ms(), -1);
  EXPECT_EQ(view.calibration(), "C-17 of 2026-03-02; zero 1; span 2");
  o.mutable_gap()->set_channel("line.pull");
  o.mutable_gap()->set_cause("unplugged");
  board.see(o, 0);
  EXPECT_EQ(only(board.view({}, 0)).gap(), "unplugged");
  board.see(sample(5, 1, v1::Quality::OVERLOAD), 1);
  view = only(board.view({}, 1));
  EXPECT_EQ(view.gap(), "");
  EXPECT_EQ(view.quality(), v1::Quality::OVERLOAD);
}

TEST(BoardTest, ChannelsAreBounded) {
  Board board;
  for (int i = 0; i < 1000; ++i) {
    v1::Observation o = sample(1, 1);
    o.set_source("s" + std::to_string(i));
    board.see(o, 1);
  }
  EXPECT_EQ(board.view({}, 1).sensor_size(), static_cast<int>(Board::kMostChannels));
}

}  // namespace
}  // namespace fairlead::sensors
