// The simulated instruments. Checksum vectors: sentences as printed by GNSS references and captured
// from receivers (NMEA 0183: XOR between '$' and '*'); two captured ones have a wrong sum.
#include <gtest/gtest.h>

#include <cmath>

#include "clients/sim/nmea.h"
#include "clients/sim/profile.h"
#include "clients/sim/track.h"

namespace fairlead::sim {
namespace {

TEST(NmeaTest, PublishedChecksumsHold) {
  for (const char* good : {
           "$GPGGA,053152,3957.7484,N,11626.7626,E,1,06,1.5,88.1,M,-8.0,M,,*64",
           "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
           "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A",
           "$GPGSA,A,3,01,20,19,13,,,,,,,,,40.4,24.4,32.2*0A",
       }) {
    EXPECT_TRUE(checksum_holds(good)) << good;
    std::string body(good + 1, std::string_view(good).rfind('*') - 1);
    EXPECT_EQ(sentence(body), std::string(good) + "\r\n");
  }
}

TEST(NmeaTest, WrongChecksumsAreSeen) {
  struct Case {
    std::string stored, right;
  };
  for (const Case& c : {
           Case{"$GPGGA,053247,3957.7484,N,11626.7626,E,0,00,,,M,,M,,*46", "5A"},
           Case{"$GPGGA,121252.000,3937.3032,N,11611.6046,E,1,05,2.0,45.9,M,-5.7,M,,0000*77", "75"},
       }) {
    EXPECT_FALSE(checksum_holds(c.stored));
    EXPECT_TRUE(checksum_holds(c.stored.substr(0, c.stored.size() - 2) + c.right));
  }
  for (const char* bad : {"", "$", "$*", "$GPGGA*", "GPGGA*56", "$GPGGA*5", "$GPGGA*XX"}) {
    EXPECT_FALSE(checksum_holds(bad)) << bad;
  }
}

TEST(NmeaTest, SentencesSayWhatWasGiven) {
  Epoch e;
  e.time_us = 1'772'445'905'250'000;  // 2026-03-02T10:05:05.25Z
  e.lat_deg = -(48 + 7.038 / 60);
  e.lon_deg = 11 + 31.0 / 60;
  e.altitude_m = 545.4;
  e.speed_mps = 1852.0 / 3600 * 22.4;
  e.course_deg = 84.4;
  e.lat_sd_m = 1.5;
  e.lon_sd_m = 2.25;
  EXPECT_EQ(sentences_of(e),
            sentence("GPRMC,100505.250,A,4807.03800,S,01131.00000,E,22.400,84.40,020326,,,A") +
                sentence("GPGGA,100505.250,4807.03800,S,01131.00000,E,1,10,0.9,545.4,M,0.0,M,,") +
                sentence("GPGST,100505.250,2.2,2.25,1.50,90.0,1.50,2.25,4.50"));
}

TEST(NmeaTest, MinutesNeverReachSixty) {
  Epoch e;
  e.lat_deg = 47.99999999999;
  e.lon_deg = -0.00000000001;
  std::string text = sentences_of(e);
  EXPECT_NE(text.find(",4800.00000,N,00000.00000,E,"), std::string::npos) << text;
}

TEST(ProfileTest, StraightBetweenPointsHeldOutside) {
  auto p = Profile::parse(
      "# t name value\n0 line.pull 100\n10 line.pull 200 # peak\n5 deck.tilt 3\n", "p.txt");
  ASSERT_TRUE(p) << p.error().message;
  EXPECT_EQ(p->at("line.pull", -1), 100);
  EXPECT_EQ(p->at("line.pull", 2.5), 125);
  EXPECT_EQ(p->at("line.pull", 10), 200);
  EXPECT_EQ(p->at("line.pull", 99), 200);
  EXPECT_EQ(p->at("deck.tilt", 0), 3);
  EXPECT_EQ(p->at("absent", 0, 7), 7);
  EXPECT_EQ(p->length_s(), 10);
}

TEST(ProfileTest, AStepIsTwoPointsOfOneTime) {
  auto p = Profile::parse("0 a 1\n5 a 1\n5 a 2\n6 a 2\n", "p.txt");
  ASSERT_TRUE(p);
  EXPECT_EQ(p->at("a", 4.999), 1);
  EXPECT_EQ(p->at("a", 5), 2);
}

TEST(ProfileTest, MistakesNameTheLine) {
  EXPECT_EQ(Profile::parse("0 a 1\n1 a\n", "p.txt").error().message,
            "p.txt:2: three words are wanted; write SECONDS NAME VALUE");
  EXPECT_EQ(Profile::parse("0 a x\n", "p.txt").error().message,
            "p.txt:1: \"x\" is no number; write SECONDS NAME VALUE");
  EXPECT_EQ(Profile::parse("2 a 1\n1 a 1\n", "p.txt").error().message,
            "p.txt:2: goes back in time; order the points of each name");
  EXPECT_FALSE(Profile::parse("0 a nan\n", "p.txt"));
  EXPECT_FALSE(Profile::parse("\n# nothing\n", "p.txt"));
  EXPECT_EQ(Profile::load("/nowhere/p.txt").error().code, Code::kIo);
}

TEST(TrackTest, IntegratesSpeedAlongTheCourse) {
  auto p = Profile::parse("0 speed 0\n10 speed 10\n20 speed 10\n0 course 90\n", "p.txt");
  ASSERT_TRUE(p);
  Track track(*p, 50, 10, Noise{});
  auto [north, east] = track.truth_m(20);
  EXPECT_NEAR(east, 150, 1e-6) << "50 m while speeding up, 100 m after";
  EXPECT_NEAR(north, 0, 1e-6);
  Epoch e = track.epoch(20, 0);
  EXPECT_NEAR((e.lon_deg - 10) * 111'195.08 * std::cos(50 * std::acos(-1) / 180), 150, 0.01);
  EXPECT_EQ(e.speed_mps, 10);
}

TEST(TrackTest, NoiseHasTheStatedSpreadAndTheSameSeedTheSameNoise) {
  auto p = Profile::parse("0 speed 0\n", "p.txt");
  Noise noise{.seed = 7, .position_sd_m = 2, .position_tau_s = 1, .speed_sd_mps = 0};
  Track a(*p, 0, 0, noise), b(*p, 0, 0, noise);
  double sum = 0;
  constexpr int kEpochs = 20'000;
  for (int i = 0; i < kEpochs; ++i) {
    Epoch ea = a.epoch(10.0 * i, 0);  // Ten time constants apart: independent.
    Epoch eb = b.epoch(10.0 * i, 0);
    ASSERT_EQ(ea.lat_deg, eb.lat_deg);
    sum += std::pow(ea.lat_deg * 111'195.08, 2);
  }
  // Standard error of an s.d. from n draws: sd / sqrt(2 n) = 0.01; five of them.
  EXPECT_NEAR(std::sqrt(sum / kEpochs), 2.0, 0.05);
}

}  // namespace
}  // namespace fairlead::sim
