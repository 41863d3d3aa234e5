// Receivers with faults, through a real gpsd: sentences with wrong checksums, leaps, missing
// epochs, a week number that wraps, a speed frozen at 0.0, two receivers at one gpsd. Sentences as
// NMEA 0183 writes them (checksum: exclusive or of the characters between $ and *); GPS weeks count
// modulo 1024 (IS-GPS-200). What gpsd made of them is read beside the plugin (gpspipe -w).
#include <gtest/gtest.h>

#include <cmath>
#include <fstream>

#include "daemon/base/time_text.h"
#include "tests/sensors/harness.h"

namespace fairlead::test {
namespace {

using namespace std::chrono_literals;

constexpr int64_t kS = 1'000'000;
constexpr int64_t kWrapUs = 1024LL * 7 * 86'400 * kS;
constexpr double kMetresADegree = 111'195.0;  // Of latitude, sphere of 6,371.0 km.

int64_t today_noon_us() {
  int64_t now = std::chrono::duration_cast<std::chrono::microseconds>(
                    std::chrono::system_clock::now().time_since_epoch())
                    .count();
  return now - now % (86'400 * kS) + 43'200 * kS;
}

std::string sentence(const std::string& body, bool good) {
  unsigned sum = good ? 0 : 0x55;
  for (char c : body) sum ^= static_cast<unsigned char>(c);
  char end[8];
  std::snprintf(end, sizeof end, "*%02X\r\n", sum & 0xFF);
  return "$" + body + end;
}

struct At {
  int64_t time_us = 0;
  double north_m = 0;  // Of 50 N 10 E.
  double speed_mps = 0;
  bool good = true;
};

std::string epoch_text(const At& at) {
  std::string t = format_time_us(at.time_us);  // 2026-11-29T12:00:00...
  std::string clock = t.substr(11, 2) + t.substr(14, 2) + t.substr(17, 2) + ".00";
  std::string date = t.substr(8, 2) + t.substr(5, 2) + t.substr(2, 2);
  double minutes = at.north_m / kMetresADegree * 60;
  char place[64], speed[32];
  std::snprintf(place, sizeof place, "50%08.5f,N,01000.00000,E", minutes);
  std::snprintf(speed, sizeof speed, "%.3f", at.speed_mps / 0.514444);
  return sentence("GPRMC," + clock + ",A," + place + "," + speed + ",0.0," + date + ",,,A",
                  at.good) +
         sentence("GPGGA," + clock + "," + place + ",1,09,0.9,100.0,M,47.0,M,,", at.good) +
         sentence("GPGSA,A,3,01,02,03,04,05,06,07,08,09,,,,1.5,0.9,1.2", at.good);
}

// A gpsd of its own with one receiver that says `text`, the plugin, and gpspipe beside it.
class Rig {
 public:
  explicit Rig(const std::vector<std::string>& texts, const std::string& more = "") {
    std::vector<std::string> arguments{
        "-N", "-b", "-S", std::to_string(port_), "-F", (dir_.path() / "ctl.sock").string()};
    for (size_t i = 0; i < texts.size(); ++i) {
      std::string file = (dir_.path() / ("nmea" + std::to_string(i))).string();
      std::ofstream(file, std::ios::binary) << texts[i];
      feeders_.push_back(std::make_unique<FileFeeder>(file));
      arguments.push_back("tcp://127.0.0.1:" + std::to_string(feeders_.back()->port()));
    }
    gpsd_ = std::make_unique<Program>("/usr/sbin/gpsd", arguments);
    std::string config = more;
    if (config.empty()) config = receiver("gps.truck");
    host_ = std::make_unique<Host>(std::vector<sensors::PluginSpec>{
        {.id = "gps", .program = FAIRLEAD_PLUGIN_GPS, .settings_toml = with_port(config)}});
  }

  [[nodiscard]] static std::string receiver(const std::string& source,
                                            const std::string& more = "") {
    return "[[receiver]]\nsource = \"" + source + "\"\nsettle_ms = 400\nport = PORT\n" + more;
  }
  [[nodiscard]] std::string device(size_t i) const {
    return "tcp://127.0.0.1:" + std::to_string(feeders_[i]->port());
  }

  // Plays everything and waits until the last epoch has settled.
  void play(const std::string& source = "gps.truck") {
    ASSERT_TRUE(eventually([&] { return host_->seen.has_state(source, "connected to gpsd"); }))
        << host_->log();
    pipe_ = std::make_unique<Program>(
        "/usr/bin/gpspipe", std::vector<std::string>{"-w", "127.0.0.1:" + std::to_string(port_)});
    ASSERT_TRUE(eventually([&] { return pipe_->output().find("\"WATCH\"") != std::string::npos; }))
        << pipe_->output();
    std::this_thread::sleep_for(200ms);
    for (auto& feeder : feeders_) feeder->go();
    for (auto& feeder : feeders_) {
      ASSERT_TRUE(eventually([&] { return feeder->done(); }, 30s));
    }
    std::this_thread::sleep_for(800ms);
  }

  [[nodiscard]] std::vector<v1::Observation> fixes(const std::string& source = "gps.truck") const {
    std::vector<v1::Observation> out;
    for (const auto& o : host_->seen.of(source)) {
      if (o.has_fix()) out.push_back(o);
    }
    return out;
  }
  [[nodiscard]] Host& host() { return *host_; }
  [[nodiscard]] std::string said() const { return pipe_->output(); }

 private:
  [[nodiscard]] std::string with_port(std::string config) const {
    for (size_t at = config.find("PORT"); at != std::string::npos; at = config.find("PORT")) {
      config.replace(at, 4, std::to_string(port_));
    }
    for (size_t i = 0; i < feeders_.size(); ++i) {
      std::string mark = "DEVICE" + std::to_string(i);
      if (size_t at = config.find(mark); at != std::string::npos) {
        config.replace(at, mark.size(), device(i));
      }
    }
    return config;
  }

  TempDir dir_;
  int port_ = free_port();
  std::vector<std::unique_ptr<FileFeeder>> feeders_;
  std::unique_ptr<Program> gpsd_, pipe_;
  std::unique_ptr<Host> host_;
};

size_t suspects(const std::vector<v1::Observation>& fixes) {
  size_t count = 0;
  for (const auto& o : fixes) count += o.quality() == v1::Quality::SUSPECT;
  return count;
}

// `change` edits epoch i of `count`, one a second from noon today, driven north at 2 m/s.
template <typename Change>
std::string drive(int count, Change change) {
  std::string text;
  for (int i = 0; i < count; ++i) {
    At at{today_noon_us() + i * kS, 2.0 * i, 2.0, true};
    if (change(i, at)) text += epoch_text(at);
  }
  return text;
}

TEST(GpsFaultsTest, SentencesWithWrongChecksumsGiveNoFix) {
  Rig rig({drive(60, [](int i, At& at) {
    if (i % 4 == 3) {
      at.good = false;
      at.north_m += 5000;  // Were it believed it would be seen.
    }
    return true;
  })});
  rig.play();
  auto fixes = rig.fixes();
  EXPECT_EQ(fixes.size(), 45U);
  for (const auto& o : fixes) {
    double north_m = (o.fix().lat_deg() - 50) * kMetresADegree;
    EXPECT_LT(north_m, 130);
    EXPECT_GT(north_m, -1);
  }
  EXPECT_EQ(suspects(fixes), 0U);
}

TEST(GpsFaultsTest, NothingButWrongChecksumsIsASilentReceiver) {
  Rig rig({drive(40,
                 [](int, At& at) {
                   at.good = false;
                   return true;
                 })},
          Rig::receiver("gps.truck", "silent_after_ms = 1000\n"));
  rig.play();
  EXPECT_TRUE(rig.fixes().empty());
  EXPECT_TRUE(eventually([&] { return rig.host().seen.has_gap("gps.truck", "no report"); }, 4s))
      << rig.said();
}

TEST(GpsFaultsTest, ALeapIsSuspectAndOnlyTheLeap) {
  Rig rig({drive(60, [](int i, At& at) {
    if (i >= 20 && i < 23) at.north_m += 300;
    return true;
  })});
  rig.play();
  auto fixes = rig.fixes();
  ASSERT_EQ(fixes.size(), 60U);
  for (size_t i = 0; i < fixes.size(); ++i) {
    EXPECT_EQ(fixes[i].quality() == v1::Quality::SUSPECT, i >= 20 && i < 23) << i;
  }
}

TEST(GpsFaultsTest, MissingEpochsAreNoLeap) {
  Rig rig({drive(60, [](int i, At&) { return i < 20 || i >= 45; })});
  rig.play();
  auto fixes = rig.fixes();
  ASSERT_EQ(fixes.size(), 35U);
  EXPECT_EQ(suspects(fixes), 0U);
}

TEST(GpsFaultsTest, AFrozenSpeedIsSuspectFromTheFifthZeroOn) {
  Rig rig({drive(40, [](int i, At& at) {
    at.north_m = 6.0 * i;
    at.speed_mps = i < 10 ? 6.0 : 0.0;
    return true;
  })});
  rig.play();
  auto fixes = rig.fixes();
  ASSERT_EQ(fixes.size(), 40U);
  // gpsd's guess of the error grows with the receiver's HDOP: past 4 sd of both ends at the latest
  // after 20 s, and not before the fifth zero.
  for (size_t i = 0; i < 14; ++i) EXPECT_NE(fixes[i].quality(), v1::Quality::SUSPECT) << i;
  for (size_t i = 30; i < 40; ++i) EXPECT_EQ(fixes[i].quality(), v1::Quality::SUSPECT) << i;
}

TEST(GpsFaultsTest, AWeekNumberThatWrapsIsNamedAndTheFixesGoOn) {
  Rig rig({drive(60, [](int i, At& at) {
    if (i >= 20 && i < 40) at.time_us += kWrapUs;
    return true;
  })});
  rig.play();
  auto fixes = rig.fixes();
  EXPECT_EQ(fixes.size(), 60U) << rig.said();
  EXPECT_EQ(suspects(fixes), 0U);
  EXPECT_TRUE(rig.host().seen.has_state("gps.truck", "1024 weeks off")) << rig.said();
  EXPECT_TRUE(rig.host().seen.has_state("gps.truck", "date agrees"));
}

TEST(GpsFaultsTest, TwoReceiversAtOneGpsdStayApart) {
  std::string north = drive(40, [](int, At&) { return true; });
  std::string far = drive(40, [](int, At& at) {
    at.north_m = 20'000;
    at.speed_mps = 0;
    return true;
  });
  Rig rig({north, far}, Rig::receiver("gps.truck", "device = \"DEVICE0\"\n") +
                            Rig::receiver("gps.tag", "device = \"DEVICE1\"\n"));
  rig.play();
  auto truck = rig.fixes("gps.truck"), tag = rig.fixes("gps.tag");
  EXPECT_EQ(truck.size(), 40U);
  EXPECT_EQ(tag.size(), 40U);
  for (const auto& o : truck) EXPECT_LT(o.fix().lat_deg(), 50.01);
  for (const auto& o : tag) EXPECT_GT(o.fix().lat_deg(), 50.1);
}

}  // namespace
}  // namespace fairlead::test
