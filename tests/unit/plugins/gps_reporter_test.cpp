// What is recorded about a receiver over time: leaps, silence, a clock that stands still, dates
// that wrap, several receivers at one gpsd. Sources: IS-GPS-200 for the week number modulo 1024;
// metres a degree from the IUGG mean radius (111,195 m); the rest is what README.md promises.
#include <gtest/gtest.h>

#include <utility>

#include "daemon/base/time_text.h"
#include "plugins/gps/reporter.h"

namespace fairlead::gps {
namespace {

constexpr int64_t kS = 1'000'000;
constexpr double kDegreePerMetre = 1 / 111'195.0;

// A receiver that is driven north from the equator, one report a second.
class Drive {
 public:
  explicit Drive(Receiver receiver = {.source = "gps.truck"}) : reporter(std::move(receiver)) {
    see(reporter.connected(at()));
  }

  sdk::Stamp at() const { return {wall0 + mono_us, mono_us}; }
  std::string time() const { return format_time_us(wall0 + mono_us + receiver_off_us); }
  std::string tpv(double speed, const std::string& device = "d") const {
    return "{\"class\":\"TPV\",\"device\":\"" + device + "\",\"mode\":3,\"time\":\"" + time() +
           "\",\"lat\":" + std::to_string(north_m * kDegreePerMetre).substr(0, 12) +
           ",\"lon\":0,\"speed\":" + std::to_string(speed) + ",\"epx\":1.96,\"epy\":1.96}";
  }
  void see(const std::vector<Told>& tellings) {
    for (const Told& told : tellings) {
      EXPECT_GE(told.at.mono_us, std::exchange(told_us, told.at.mono_us)) << "runs back";
      if (told.fix) (told.suspect ? suspect : good) += 1;
      if (!told.gap.empty()) gaps.push_back(told.gap);
      if (!told.state.empty()) states.push_back(told.state);
    }
  }
  void say(const std::string& text) { see(reporter.report(text, at())); }
  void pass(int64_t us) {
    for (int64_t done = 0; done < us; done += 100'000) {
      mono_us += 100'000;
      see(reporter.turn(at()));
    }
  }
  // One second at this speed.
  void second(double speed) {
    say(tpv(speed));
    pass(kS);
    north_m += speed;
  }
  bool said(const std::string& words) const {
    for (const std::string& s : states) {
      if (s.find(words) != std::string::npos) return true;
    }
    return false;
  }

  Reporter reporter;
  int64_t wall0 = *parse_time_us("2026-03-02T10:00:00Z");
  int64_t mono_us = 10 * kS, receiver_off_us = 0, told_us = 0;
  double north_m = 0;
  int good = 0, suspect = 0;
  std::vector<std::string> gaps, states;
};

TEST(GpsReporterTest, ADriveIsFixesAndNothingElse) {
  Drive d;
  for (int i = 0; i < 30; ++i) d.second(8);
  EXPECT_EQ(d.good, 30);
  EXPECT_EQ(d.suspect, 0);
  EXPECT_TRUE(d.gaps.empty());
  EXPECT_EQ(d.states, (std::vector<std::string>{
                          "connected to gpsd",
                          "errors: gpsd's figures, taken as 95 %, divided by 1.96", "3D fix"}));
}

TEST(GpsReporterTest, ALeapIsSuspectUntilItIsBackOrStays) {
  Drive d;
  for (int i = 0; i < 5; ++i) d.second(0.5);
  // Reach in a second at 0.5 m/s: (0.5 + 2) + 4 x sqrt(2) = 8.2 m; 10 s later 30.7 m.
  d.north_m += 40;
  for (int i = 0; i < 3; ++i) d.second(0.5);
  EXPECT_EQ(d.good, 5);
  EXPECT_EQ(d.suspect, 3);
  d.north_m -= 40;
  d.second(0.5);
  EXPECT_EQ(d.good, 6) << "back where it was";
  d.north_m += 40;
  for (int i = 0; i < 10; ++i) d.second(0.5);
  EXPECT_EQ(d.suspect, 3 + 4);
  EXPECT_EQ(d.good, 6 + 6) << "believed from the fifth on";
  EXPECT_TRUE(d.said("leapt and stays"));
}

TEST(GpsReporterTest, AStepWithinReachIsNoLeap) {
  Drive d;
  d.second(0);
  d.north_m += 7.5;  // Reach at rest: 2 + 4 x sqrt(2) = 7.66 m.
  d.second(0);
  EXPECT_EQ(d.suspect, 0);
  d.north_m += 7.8;
  d.second(0);
  EXPECT_EQ(d.suspect, 1);
}

TEST(GpsReporterTest, ADropoutIsNoLeap) {
  Drive d;
  for (int i = 0; i < 3; ++i) d.second(20);
  d.pass(10 * kS);
  d.north_m += 200;
  ASSERT_EQ(d.gaps.size(), 1U);
  EXPECT_EQ(d.gaps[0], "no report from the receiver for 3 s");
  d.second(20);
  EXPECT_EQ(d.suspect, 0);
  EXPECT_EQ(d.good, 4);
  d.pass(10 * kS);
  EXPECT_EQ(d.gaps.size(), 2U) << "each loss once";
}

TEST(GpsReporterTest, ATimeThatStandsStillIsStale) {
  Drive d;
  d.second(1);
  std::string stuck = d.tpv(1);
  for (int i = 0; i < 10; ++i) {
    d.say(stuck);
    d.pass(kS);
  }
  EXPECT_EQ(d.good, 2);
  ASSERT_EQ(d.gaps.size(), 1U);
  EXPECT_EQ(d.gaps[0], "no new fix for 3 s: its time stands still");
}

TEST(GpsReporterTest, ReportsWithoutTimeOrSpeedAreStale) {
  struct Case {
    const char* text;
    const char* why;
  };
  for (
      const Case& c :
      {Case{R"({"class":"TPV","device":"d","mode":3,"lat":1,"lon":1,"speed":1})", "no time"},
       Case{
           R"({"class":"TPV","device":"d","mode":3,"time":"2026-03-02T10:00:00Z","lat":1,"lon":1})",
           "no speed"},
       Case{R"({"class":"TPV","device":"d","mode":3,"time":"2026-03-02T10:00:00Z","speed":1})",
            "no position"}}) {
    Drive d;
    for (int i = 0; i < 6; ++i) {
      d.say(c.text);
      d.pass(kS);
    }
    ASSERT_EQ(d.gaps.size(), 1U);
    EXPECT_NE(d.gaps[0].find(c.why), std::string::npos) << d.gaps[0];
    EXPECT_EQ(d.good, 0);
  }
}

TEST(GpsReporterTest, NoFixIsSaidOnceAndIsNotSilence) {
  Drive d;
  d.second(1);
  for (int i = 0; i < 10; ++i) {
    d.say(R"({"class":"TPV","device":"d","mode":1})");
    d.pass(kS);
  }
  EXPECT_EQ(d.gaps, (std::vector<std::string>{"the receiver has no fix"}));
  d.second(1);
  EXPECT_EQ(d.good, 2);
}

TEST(GpsReporterTest, ADateThatWrapsWhileDrivingKeepsTheFixes) {
  Drive d;
  for (int i = 0; i < 5; ++i) d.second(8);
  d.receiver_off_us = -1024LL * 7 * 86'400 * kS;
  for (int i = 0; i < 5; ++i) d.second(8);
  EXPECT_EQ(d.good, 10) << "neither lost nor a leap";
  EXPECT_TRUE(d.said("1024 weeks off"));
  d.receiver_off_us = 0;
  d.second(8);
  EXPECT_TRUE(d.said("date agrees"));
  EXPECT_TRUE(d.gaps.empty());
}

TEST(GpsReporterTest, OneReceiverOfSeveralUnlessNamed) {
  Drive d;
  for (int i = 0; i < 5; ++i) {
    d.say(d.tpv(1, "other"));
    d.second(1);
  }
  EXPECT_EQ(d.good, 5) << "the first that was heard, alone";
  EXPECT_TRUE(d.said("several receivers: other is used, not d"));
  Drive named({.source = "gps.tag", .device = "d"});
  for (int i = 0; i < 5; ++i) {
    named.say(named.tpv(1, "other"));
    named.second(1);
  }
  EXPECT_EQ(named.good, 5);
  EXPECT_FALSE(named.said("several"));
}

TEST(GpsReporterTest, SatellitesAreSaidWhenTheyChangeOnceAMinute) {
  Drive d;
  for (int i = 0; i < 119; ++i) {
    d.second(0.1);
    d.say("{\"class\":\"SKY\",\"device\":\"d\",\"hdop\":0.94,\"nSat\":13,\"uSat\":" +
          std::to_string(5 + i % 3) + "}");
  }
  int said = 0;
  for (const auto& s : d.states) said += s.find(" of 13 satellites, HDOP 0.9") != std::string::npos;
  EXPECT_EQ(said, 2) << "two minutes";
}

TEST(GpsReporterTest, WhatComesAmidAnEpochIsNotStampedAfterItsFix) {
  Drive d;
  for (int i = 0; i < 3; ++i) {
    d.say(d.tpv(8));
    d.mono_us += 50'000;
    d.say(R"({"class":"SKY","device":"d","hdop":0.9,"nSat":13,"uSat":8})");
    d.say(R"({"class":"TPV","device":"d","mode":3,"lat":91})");
    d.pass(kS);  // Here the fix is given; each telling is checked in Drive::see.
  }
  EXPECT_EQ(d.good, 3);
  EXPECT_TRUE(d.said("8 of 13 satellites"));
  EXPECT_FALSE(d.gaps.empty());
}

TEST(GpsReporterTest, WhatIsNotUnderstoodIsSaidOnceUntilTheNextFix) {
  Drive d;
  for (int i = 0; i < 20; ++i) d.say(R"({"class":"TPV","device":"d","mode":3,"lat":91})");
  EXPECT_EQ(d.gaps.size(), 1U);
  d.second(1);
  d.say(R"({"class":"TPV","device":"d","mode":3,"lat":91})");
  EXPECT_EQ(d.gaps.size(), 2U);
}

TEST(GpsReporterTest, AGpsdThatComesAndGoesIsOneGap) {
  Drive d;
  d.second(1);
  for (int i = 0; i < 5; ++i) {
    d.see(d.reporter.gone("gpsd has gone", d.at()));
    d.pass(kS);
    d.see(d.reporter.connected(d.at()));
  }
  EXPECT_EQ(d.gaps.size(), 1U);
  d.second(1);
  d.see(d.reporter.gone("gpsd has gone", d.at()));
  EXPECT_EQ(d.gaps.size(), 2U);
}

}  // namespace
}  // namespace fairlead::gps
