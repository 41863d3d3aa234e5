// The truck's motion as evidence on a shifted load: J-102's drive with a receiver that gives course
// and speed each second. Figures: 49 CFR 393.102(a)(2), 0.435 g forward, 0.5 rearward, 0.25
// sideways against working load limits; 9.80665 m/s2 (SI Brochure).
#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "reports/claim/readings.h"
#include "tests/unit/reports/traced_job.h"

namespace fairlead::reports {
namespace {

using ::testing::HasSubstr;

constexpr double kGravity = 9.80665;

// J-102 without its own coarse fixes; instead half a minute from 08:20:00 that ends in a stop.
std::vector<Reading> motion_of_a_stop(double stop_g, const std::string& rules = "",
                                      bool with_course = true) {
  JobRecord record = traced_job("J-102");
  std::erase_if(record.lines, [](const v1::Observation& line) { return line.has_fix(); });
  const v1::Observation& first = record.lines.front();
  double speed = 22;
  for (int second = 0; second < 30; ++second) {
    v1::Observation line;
    line.set_time(fmt::format("{}T08:20:{:02}Z", first.time().substr(0, 10), second));
    line.set_job(first.job());
    line.set_source("gps.truck");
    line.set_clock("truck");
    line.set_seq(10'000 + static_cast<uint32_t>(second));
    v1::Fix& fix = *line.mutable_fix();
    fix.set_lat_deg(44.5), fix.set_lon_deg(-30), fix.set_h_sd_m(2.5), fix.set_mode(3);
    fix.set_speed_mps(speed);
    fix.set_speed_sd_mps(0.05);
    if (with_course) fix.set_course_deg(90);
    record.lines.push_back(line);
    if (second >= 20) speed = std::max(3.0, speed - stop_g * kGravity);
  }
  if (!rules.empty()) record.register_files.add_base()->set_rules(rules);
  const LocalTime local(0, "");
  const JobFacts facts = gather_facts(record);
  const std::vector<Series> series = series_of(record);
  std::vector<Reading> out;
  add_motion_readings({record, facts, series, local}, out);
  return out;
}

const Reading& reading(const std::vector<Reading>& all, const std::string& id) {
  static const Reading none;
  const auto found = std::ranges::find(all, id, &Reading::id);
  EXPECT_NE(found, all.end()) << id;
  return found == all.end() ? none : *found;
}

TEST(MotionReadings, AHardStopIsOutside) {
  const auto hard = motion_of_a_stop(0.6);
  EXPECT_EQ(reading(hard, "motion_forward").side, Side::kOutside);
  EXPECT_THAT(reading(hard, "motion_forward").value, HasSubstr("0.60 g ("));
  EXPECT_EQ(reading(hard, "motion_forward").limit, "at most 0.435 g");
  EXPECT_THAT(reading(hard, "motion_forward").words, HasSubstr("393.102(a)(2)"));
  EXPECT_THAT(reading(hard, "motion_forward").words, HasSubstr("08:20:2"));
  EXPECT_EQ(reading(hard, "motion_forward").basis, "measured");
  for (const char* id : {"motion_rearward", "motion_left", "motion_right"})
    EXPECT_EQ(reading(hard, id).side, Side::kInside) << id;
  EXPECT_EQ(reading(motion_of_a_stop(0.2), "motion_forward").side, Side::kInside);
}

// EN 12195-1 reckons with 0.8 g forward: the same stop lies inside.
TEST(MotionReadings, FiguresOfTheBasesRules) {
  const auto hard = motion_of_a_stop(0.6, "en12195-2010");
  EXPECT_EQ(reading(hard, "motion_forward").side, Side::kInside);
  EXPECT_EQ(reading(hard, "motion_forward").limit, "at most 0.8 g");
  EXPECT_THAT(reading(hard, "motion_forward").words, HasSubstr("EN 12195-1:2010"));
}

TEST(MotionReadings, NothingIsMadeOfSpeedsAlone) {
  EXPECT_TRUE(motion_of_a_stop(0.6, "", false).empty());
  const auto ids = reading_ids();
  for (const Reading& one : motion_of_a_stop(0.6))
    EXPECT_NE(std::ranges::find(ids, one.id), ids.end());
}

}  // namespace
}  // namespace fairlead::reports
