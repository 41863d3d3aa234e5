// gpsd's JSON as fixes. Sources: gpsd_json(5) of gpsd 3.22 for the members and their 95 % figures;
// the report texts below are what gpsd 3.22 printed for a real receiver's sentences, shortened.
// 1.96: 97.5 % point of the normal distribution (two-sided 95 %), printed in any statistics table.
#include <gtest/gtest.h>

#include "daemon/base/time_text.h"
#include "plugins/gps/epoch.h"
#include "plugins/gps/protocol.h"

namespace fairlead::gps {
namespace {

constexpr int64_t kS = 1'000'000;
constexpr int64_t kWeek = 7 * 86'400 * kS;

// The four reports of one epoch, as they came.
const char* const kReports[] = {
    R"({"class":"TPV","device":"d","status":2,"mode":2,"time":"2022-03-09T15:01:19.000Z","lat":51.068098333,"lon":-114.095645000,"track":194.1700,"speed":0.046})",
    R"({"class":"TPV","device":"d","mode":3,"time":"2022-03-09T15:01:19.000Z","lat":51.068098333,"lon":-114.095645000,"track":194.1700,"speed":0.046,"eph":4.465})",
    R"({"class":"TPV","device":"d","mode":3,"time":"2022-03-09T15:01:19.000Z","lat":51.068098333,"lon":-114.095645000,"track":194.1700,"speed":0.046,"eph":4.465,"epx":3.92,"epy":5.88,"eps":0.98})",
    R"({"class":"TPV","device":"d","mode":3,"time":"2022-03-09T15:01:20.000Z","lat":51.068098333,"lon":-114.095646667,"track":194.1700,"speed":0.067})",
};

Tpv tpv(const std::string& json) {
  auto read = read_tpv(json);
  EXPECT_TRUE(read) << read.error().message;
  return read.value_or(Tpv());
}

Tpv at(int64_t second, double lat, double speed) {
  Tpv t;
  t.mode = 3;
  t.time_us = second * kS;
  t.lat_deg = lat;
  t.lon_deg = 0;
  t.speed_mps = speed;
  t.epx_m = 1.96;
  t.epy_m = 1.96;
  return t;
}

TEST(GpsProtocolTest, OnlyTheTextDecidesWhatAReportIs) {
  EXPECT_EQ(report_class(kReports[0]), Report::kTpv);
  EXPECT_EQ(report_class(R"({"class":"SKY","device":"d","lat":1})"), Report::kSky);
  EXPECT_EQ(report_class(R"({"class":"GST","device":"d"})"), Report::kGst);
  EXPECT_EQ(report_class(R"({"class":"DEVICE","path":"d"})"), Report::kOther);
  EXPECT_EQ(report_class(""), Report::kOther);
}

TEST(GpsProtocolTest, ReadsMembersAndLeavesOutWhatIsAbsent) {
  Tpv t = tpv(kReports[0]);
  EXPECT_EQ(t.mode, 2);
  EXPECT_EQ(t.device, "d");
  EXPECT_EQ(*t.time_us, *parse_time_us("2022-03-09T15:01:19Z"));
  EXPECT_EQ(*t.lat_deg, 51.068098333);
  EXPECT_EQ(*t.speed_mps, 0.046);
  EXPECT_FALSE(t.eph_m);
  EXPECT_FALSE(t.eps_mps);
}

TEST(GpsProtocolTest, HostileReportsAreErrorsWithTheMember) {
  EXPECT_FALSE(read_tpv("{\"class\":\"TPV\""));
  EXPECT_FALSE(read_tpv("[]"));
  EXPECT_EQ(read_tpv(R"({"class":"TPV"})").error().message.substr(0, 5), "mode:");
  EXPECT_EQ(read_tpv(R"({"class":"TPV","mode":3,"lat":91})").error().message.substr(0, 4), "lat:");
  EXPECT_EQ(read_tpv(R"({"class":"TPV","mode":3,"lat":"x"})").error().message.substr(0, 4), "lat:");
  EXPECT_EQ(read_tpv(R"({"class":"TPV","mode":3,"time":"yesterday"})").error().message.substr(0, 5),
            "time:");
  EXPECT_FALSE(
      read_tpv(R"({"class":"TPV","mode":3,"device":")" + std::string(20'000, 'x') + "\"}"));
  EXPECT_FALSE(read_tpv(R"({"class":"TPV","mode":3,"speed":null})").value().speed_mps);
}

TEST(GpsProtocolTest, NinetyFivePercentFiguresAreDividedBy196) {
  auto fix = to_fix(tpv(kReports[2]));
  ASSERT_TRUE(fix);
  EXPECT_DOUBLE_EQ(fix->fix.h_sd_m(), 3.0) << "the greater of epx 3.92 and epy 5.88";
  EXPECT_DOUBLE_EQ(fix->fix.speed_sd_mps(), 0.5) << "eps 0.98";
  EXPECT_EQ(fix->fix.mode(), 3U);
  EXPECT_EQ(fix->fix.course_deg(), 194.17);
  EXPECT_EQ(fix->basis, Basis::kGpsd);
  auto by_eph = to_fix(tpv(kReports[1]));
  EXPECT_DOUBLE_EQ(by_eph->fix.h_sd_m(), 4.465 / 1.96);
  EXPECT_FALSE(by_eph->fix.has_speed_sd_mps());
  auto unstated = to_fix(tpv(kReports[0]));
  EXPECT_NEAR(unstated->fix.h_sd_m(), 6.13, 0.005);
  EXPECT_EQ(unstated->basis, Basis::kUnstated);
}

// What gpsd 3.22 printed for the first GST sentence of receiver-01 (fields 6 and 7 of the sentence:
// 6.8 and 7.2 m, one standard deviation of latitude and longitude, NMEA 0183).
const char* const kGst =
    R"({"class":"GST","device":"d","time":"2022-03-09T15:01:19.000Z","rms":4.000,"major":8.700,"minor":4.700,"orient":132.300,"lat":6.800,"lon":7.200,"alt":14.000})";

TEST(GpsProtocolTest, TheReceiversOwnDeviationsCountWhereTheyAreWider) {
  auto gst = read_gst(kGst);
  ASSERT_TRUE(gst) << gst.error().message;
  EXPECT_EQ(*gst->lat_sd_m, 6.8);
  EXPECT_EQ(*gst->time_us, *parse_time_us("2022-03-09T15:01:19Z"));
  auto fix = to_fix(tpv(kReports[2]), *gst);
  EXPECT_EQ(fix->fix.h_sd_m(), 7.2) << "the greater axis, not divided";
  EXPECT_EQ(fix->basis, Basis::kReceiver);
  gst->lat_sd_m = gst->lon_sd_m = 0.6;  // As receiver-02 says while gpsd guesses 5.7 m.
  fix = to_fix(tpv(kReports[2]), *gst);
  EXPECT_DOUBLE_EQ(fix->fix.h_sd_m(), 3.0);
  EXPECT_EQ(fix->basis, Basis::kGpsd);
  gst->lat_sd_m = gst->lon_sd_m = 0;
  EXPECT_NEAR(to_fix(tpv(kReports[0]), *gst)->fix.h_sd_m(), 6.13, 0.005) << "no sd is 0";
  EXPECT_FALSE(read_gst(R"({"class":"GST","lat":-1})"));
}

TEST(GpsProtocolTest, Satellites) {
  // gpsd 3.22 for receiver-01, its list shortened.
  auto sky = read_sky(
      R"({"class":"SKY","device":"d","xdop":0.61,"hdop":0.94,"nSat":13,"uSat":8,"satellites":[{"PRN":4,"el":77.0,"az":125.0,"ss":31.0,"used":true}]})");
  ASSERT_TRUE(sky);
  EXPECT_EQ(*sky->seen, 13);
  EXPECT_EQ(*sky->used, 8);
  EXPECT_EQ(*sky->hdop, 0.94);
}

TEST(GpsProtocolTest, NoFixWithoutPositionOrSpeed) {
  Tpv t = at(1, 0, 0);
  EXPECT_TRUE(to_fix(t));
  for (auto member : {&Tpv::lat_deg, &Tpv::lon_deg, &Tpv::speed_mps}) {
    Tpv less = t;
    (less.*member).reset();
    EXPECT_FALSE(to_fix(less));
  }
  t.mode = 1;
  EXPECT_FALSE(to_fix(t));
}

TEST(GpsProtocolTest, DatesThatWrappedAreSeen) {
  int64_t wall = *parse_time_us("2026-03-02T10:00:00Z");
  EXPECT_EQ(judge_date(wall - kS, wall), DateVerdict::kPlausible);
  // GPS counts weeks modulo 1024 (IS-GPS-200).
  EXPECT_EQ(judge_date(wall - 1024 * kWeek, wall), DateVerdict::kWeekRollover);
  EXPECT_EQ(judge_date(wall + 1024 * kWeek, wall), DateVerdict::kWeekRollover);
  EXPECT_EQ(judge_date(wall - 2048 * kWeek, wall), DateVerdict::kWeekRollover);
  EXPECT_EQ(judge_date(wall - 1000 * kWeek, wall), DateVerdict::kOff);
  // 2009-12-09 read one turn late is 2029-07-25.
  EXPECT_EQ(*parse_time_us("2009-12-09T00:00:00Z") + 1024 * kWeek,
            *parse_time_us("2029-07-25T00:00:00Z"));
}

TEST(EpochTest, SeveralReportsOfOneTimeAreOneFix) {
  EpochMerger merger;
  for (int i = 0; i < 3; ++i) {
    EXPECT_FALSE(merger.push(tpv(kReports[i]), {100 + i, 10 + i}).epoch);
  }
  auto out = merger.push(tpv(kReports[3]), {200, 20});
  ASSERT_TRUE(out.epoch);
  EXPECT_DOUBLE_EQ(out.epoch->fix.h_sd_m(), 3.0) << "what came last counts";
  EXPECT_EQ(out.epoch->fix.lon_deg(), -114.095645);
  EXPECT_EQ(out.epoch->arrived.wall_us, 100) << "stamped when its first report came";
  EXPECT_EQ(*out.epoch->receiver_us, *parse_time_us("2022-03-09T15:01:19Z"));
  out = merger.flush();
  ASSERT_TRUE(out.epoch);
  EXPECT_EQ(out.epoch->fix.lon_deg(), -114.095646667);
  EXPECT_FALSE(merger.flush().epoch);
}

TEST(EpochTest, DeviationsOfAnotherTimeDoNotCount) {
  EpochMerger merger;
  merger.push(*read_gst(kGst));
  merger.push(tpv(kReports[3]), {0, 0});  // A second later.
  EXPECT_EQ(merger.flush().epoch->basis, Basis::kUnstated);
  merger.push(tpv(kReports[2]), {0, 0});
  EXPECT_EQ(merger.flush().epoch->fix.h_sd_m(), 7.2);
}

TEST(EpochTest, WhatComesLateForAnEpochAlreadyGivenOutIsPassedOver) {
  EpochMerger merger;
  merger.push(at(1, 0, 1), {0, 0});
  EXPECT_TRUE(merger.flush().epoch);
  merger.push(at(1, 0, 2), {0, 0});
  EXPECT_FALSE(merger.pending_since_us());
  EXPECT_FALSE(merger.flush().epoch);
}

TEST(EpochTest, ReportsWithoutTimeBelongToNoEpoch) {
  EpochMerger merger;
  Tpv t = at(1, 0, 1);
  t.time_us.reset();
  merger.push(t, {0, 0});
  EXPECT_FALSE(merger.flush().epoch);
}

TEST(EpochTest, ALostFixIsSaidOnceALoss) {
  EpochMerger merger;
  Tpv none;
  none.mode = 1;
  EXPECT_TRUE(merger.push(none, {0, 0}).lost_fix) << "none from the start";
  EXPECT_FALSE(merger.push(none, {0, 0}).lost_fix);
  merger.push(at(1, 0, 1), {0, 0});
  auto out = merger.push(none, {0, 0});
  EXPECT_TRUE(out.epoch) << "what was collected is not thrown away";
  EXPECT_TRUE(out.lost_fix);
}

// README.md, "A frozen speed": five zeros in a row while the position moved over 4 sd.
TEST(EpochTest, AFrozenZeroSpeedIsFlagged) {
  constexpr double kDegreePerMetre = 1 / 111'195.0;  // Of latitude, sphere of 6,371.0 km.
  EpochMerger moving, parked, honest;
  int frozen_moving = 0, frozen_parked = 0, frozen_honest = 0;
  for (int i = 1; i <= 20; ++i) {
    double lat = i * 2.0 * kDegreePerMetre;
    auto step = [&](EpochMerger& merger, double where, double speed, int& count) {
      auto out = merger.push(at(i, where, speed), {0, 0});
      if (out.epoch && out.epoch->frozen) ++count;
    };
    step(moving, lat, 0.0, frozen_moving);
    step(parked, (i % 2) * kDegreePerMetre, 0.0, frozen_parked);
    step(honest, lat, 2.0, frozen_honest);
  }
  // sd 1 m at both ends: over 4 x sqrt(2) = 5.66 m, so from the fifth zero (8 m) on.
  EXPECT_EQ(frozen_moving, 15);
  EXPECT_EQ(frozen_parked, 0);
  EXPECT_EQ(frozen_honest, 0);
}

TEST(EpochTest, DistanceOnTheSphere) {
  v1::Fix a, b;
  b.set_lat_deg(1);
  // 6,371.0088 km x pi / 180 = 111.19508 km a degree (IUGG mean radius).
  EXPECT_NEAR(distance_m(a, b), 111'195.08, 0.01);
  EXPECT_EQ(distance_m(a, a), 0);
}

}  // namespace
}  // namespace fairlead::gps
