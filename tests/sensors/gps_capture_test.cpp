// The gps plugin against a real gpsd that reads real receivers' captures: what is recorded must be
// what gpsd itself says (gpspipe -w on the same daemon, the same run), one fix an epoch, its 95 %
// figures divided by 1.96, or the receiver's own deviations (GST) where these are wider. The
// captures are regression data of the gpsd project; they lie outside the repository, in
// FAIRLEAD_GPSLOGS or in ../shared/gpslogs.
#include <gtest/gtest.h>
#include <signal.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "tests/sensors/harness.h"

namespace fairlead::test {
namespace {

namespace fs = std::filesystem;
using namespace std::chrono_literals;
using Json = nlohmann::json;

fs::path captures_folder() {
  const char* named = std::getenv("FAIRLEAD_GPSLOGS");
  return named != nullptr ? fs::path(named) : fs::path(FAIRLEAD_SOURCE_DIR) / "../shared/gpslogs";
}

std::vector<fs::path> captures() {
  std::vector<fs::path> files;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(captures_folder(), error)) {
    if (entry.path().extension() == ".log") files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  return files;
}

// One receiver: its capture on a port, a gpsd of its own, gpspipe beside the plugin.
struct Chain {
  FileFeeder feeder;
  int gpsd_port = free_port();
  Program gpsd;
  std::unique_ptr<Program> pipe;

  Chain(const fs::path& capture, const TempDir& dir)
      : feeder(capture),
        gpsd("/usr/sbin/gpsd", {"-N", "-b", "-S", std::to_string(gpsd_port), "-F",
                                (dir.path() / (std::to_string(gpsd_port) + ".sock")).string(),
                                "tcp://127.0.0.1:" + std::to_string(feeder.port())}) {}
  void listen() {
    pipe = std::make_unique<Program>(
        "/usr/bin/gpspipe",
        std::vector<std::string>{"-w", "127.0.0.1:" + std::to_string(gpsd_port)});
  }
};

// gpsd's own words of the run, merged by time as the plugin's README says: the independent second
// reading of this test. A GST counts for the epoch of its time when it comes before the next epoch.
std::vector<Json> epochs_of(const std::string& text) {
  std::vector<Json> epochs;
  Json gst = Json::object();
  auto close = [&] {
    bool own = !epochs.empty() && gst.contains("time") && gst["time"] == epochs.back()["time"];
    if (own) epochs.back()["gst"] = gst;
  };
  std::istringstream lines(text);
  std::string line;
  while (std::getline(lines, line)) {
    Json report = Json::parse(line, nullptr, false);
    if (!report.is_object()) continue;
    if (report.value("class", "") == "GST") gst = report;
    if (report.value("class", "") != "TPV") continue;
    if (report.value("mode", 0) < 2 || !report.contains("time")) {
      if (report.value("mode", 0) < 2) close();
      continue;
    }
    if (!epochs.empty() && epochs.back()["time"] == report["time"]) {
      int mode = std::max(epochs.back()["mode"].get<int>(), report["mode"].get<int>());
      epochs.back().update(report);
      epochs.back()["mode"] = mode;
    } else {
      close();
      epochs.push_back(report);
    }
  }
  close();
  std::erase_if(epochs, [](const Json& e) {
    return !e.contains("lat") || !e.contains("lon") || !e.contains("speed");
  });
  return epochs;
}

double horizontal_sd_m(const Json& epoch) {
  double sd_m = 0;
  if (epoch.contains("epx") && epoch.contains("epy")) {
    sd_m = std::max(epoch["epx"].get<double>(), epoch["epy"].get<double>()) / 1.96;
  } else if (epoch.contains("eph")) {
    sd_m = epoch["eph"].get<double>() / 1.96;
  }
  if (epoch.contains("gst")) {
    sd_m = std::max({sd_m, epoch["gst"]["lat"].get<double>(), epoch["gst"]["lon"].get<double>()});
  }
  return sd_m > 0 ? sd_m : 15 / 2.4477;
}

void expect_same(const v1::Fix& fix, const Json& epoch) {
  EXPECT_EQ(fix.lat_deg(), epoch["lat"].get<double>());
  EXPECT_EQ(fix.lon_deg(), epoch["lon"].get<double>());
  EXPECT_EQ(fix.speed_mps(), epoch["speed"].get<double>());
  EXPECT_EQ(fix.mode(), epoch["mode"].get<unsigned>());
  EXPECT_EQ(fix.has_course_deg(), epoch.contains("track"));
  if (epoch.contains("track")) {
    EXPECT_EQ(fix.course_deg(), epoch["track"].get<double>());
  }
  EXPECT_EQ(fix.has_speed_sd_mps(), epoch.contains("eps"));
  if (epoch.contains("eps")) {
    EXPECT_DOUBLE_EQ(fix.speed_sd_mps() * 1.96, epoch["eps"].get<double>());
  }
  EXPECT_DOUBLE_EQ(fix.h_sd_m(), horizontal_sd_m(epoch));
}

std::vector<v1::Fix> fixes_of(const Collector& seen, const std::string& source) {
  std::vector<v1::Fix> fixes;
  for (const auto& o : seen.of(source)) {
    if (o.has_fix()) fixes.push_back(o.fix());
  }
  return fixes;
}

TEST(GpsCaptureTest, EveryCaptureIsRecordedAsGpsdSaysIt) {
  std::vector<fs::path> files = captures();
  if (files.empty()) {
    std::fprintf(stderr,
                 "*** NO RECEIVER CAPTURES in %s: set FAIRLEAD_GPSLOGS to their folder ***\n",
                 captures_folder().c_str());
    if (std::getenv("CI") != nullptr) FAIL() << "CI must have the captures";
    GTEST_SKIP() << "no captures";
  }
  TempDir dir;
  std::vector<std::unique_ptr<Chain>> chains;
  std::string config;
  for (size_t i = 0; i < files.size(); ++i) {
    chains.push_back(std::make_unique<Chain>(files[i], dir));
    // The feeder is fast and the machine may be busy: an epoch is over when the next one comes.
    config += "[[receiver]]\nsource = \"gps.r" + std::to_string(i) +
              "\"\nport = " + std::to_string(chains[i]->gpsd_port) + "\nsettle_ms = 3000\n";
  }
  Host host(
      {{.id = "gps", .program = FAIRLEAD_PLUGIN_GPS, .settings_toml = config, .required = true}});
  for (auto& chain : chains) chain->listen();
  // gpsd opens its receiver with the first listener: all must be there before the bytes flow.
  for (size_t i = 0; i < files.size(); ++i) {
    std::string source = "gps.r" + std::to_string(i);
    // gpspipe tries once: again until gpsd is up.
    ASSERT_TRUE(eventually([&] {
      if (chains[i]->pipe->output().find("\"WATCH\"") != std::string::npos) return true;
      if (chains[i]->pipe->output().find("could not connect") != std::string::npos) {
        chains[i]->listen();
      }
      return false;
    })) << chains[i]->pipe->output()
        << chains[i]->gpsd.output();
    ASSERT_TRUE(eventually([&] { return host.seen.has_state(source, "connected to gpsd"); }))
        << host.log();
  }
  std::this_thread::sleep_for(300ms);
  for (auto& chain : chains) chain->feeder.go();
  for (auto& chain : chains) {
    ASSERT_TRUE(eventually([&] { return chain->feeder.done(); }, 30s));
  }
  // The last epoch settles after 3 s.
  std::this_thread::sleep_for(500ms);
  for (size_t i = 0; i < files.size(); ++i) {
    SCOPED_TRACE(files[i].filename().string());
    std::string source = "gps.r" + std::to_string(i);
    std::vector<Json> epochs = epochs_of(chains[i]->pipe->output());
    EXPECT_GE(epochs.size(), 10U) << "gpsd made something of the capture";
    EXPECT_TRUE(
        eventually([&] { return fixes_of(host.seen, source).size() >= epochs.size(); }, 8s));
    std::vector<v1::Fix> fixes = fixes_of(host.seen, source);
    ASSERT_EQ(fixes.size(), epochs.size());
    for (size_t e = 0; e < epochs.size(); ++e) {
      SCOPED_TRACE(epochs[e].dump());
      expect_same(fixes[e], epochs[e]);
    }
    // All captures are old: the receiver's date is said to be off, the fixes carry this machine's.
    EXPECT_TRUE(host.seen.has_state(source, "receiver's date is"));
    EXPECT_TRUE(host.seen.has_state(source, "divided by 1.96"));
    const std::string& said = chains[i]->pipe->output();
    EXPECT_EQ(host.seen.has_state(source, " satellites"), said.find("uSat") != std::string::npos);
    size_t suspect = 0;
    for (const auto& o : host.seen.of(source))
      suspect += o.has_fix() && o.quality() != v1::Quality::UNSET;
    EXPECT_EQ(suspect, 0U) << "the receivers stood still or were walked: no leap, none frozen";
  }
}

TEST(GpsCaptureTest, AGpsdThatGoesIsAGapAndIsFoundAgain) {
  TempDir dir;
  std::string profile = (dir.path() / "drive.txt").string();
  std::ofstream(profile) << "0 speed 0\n1 speed 8\n600 speed 8\n0 course 90\n";
  Program sim(FAIRLEAD_SIM, {"nmea", "--profile", profile, "--origin", "50", "10", "--rate", "5",
                             "--noise", "1", "--seed", "3"});
  int feed_port = sim.port();
  ASSERT_NE(feed_port, 0) << sim.output();
  int gpsd_port = free_port();
  std::vector<std::string> arguments{"-N",
                                     "-b",
                                     "-S",
                                     std::to_string(gpsd_port),
                                     "-F",
                                     (dir.path() / "ctl.sock").string(),
                                     "tcp://127.0.0.1:" + std::to_string(feed_port)};
  std::string config = "[[receiver]]\nsource = \"gps.truck\"\nport = " + std::to_string(gpsd_port) +
                       "\nsilent_after_ms = 1500\n";
  Host host({{.id = "gps", .program = FAIRLEAD_PLUGIN_GPS, .settings_toml = config}});
  ASSERT_TRUE(eventually([&] { return host.seen.has_gap("gps.truck", "gpsd does not answer"); }))
      << host.log();
  size_t fixes_before = 0;
  {
    Program gpsd("/usr/sbin/gpsd", arguments);
    ASSERT_TRUE(eventually([&] { return fixes_of(host.seen, "gps.truck").size() >= 10; }, 15s))
        << host.log() << gpsd.output();
    // Over real gpsd the simulated truck drives east from its origin at 8 m/s.
    v1::Fix last = fixes_of(host.seen, "gps.truck").back();
    EXPECT_NEAR(last.lat_deg(), 50, 0.0001);
    EXPECT_GT(last.lon_deg(), 10);
    EXPECT_NEAR(last.speed_mps(), 8, 0.6);
    EXPECT_EQ(last.mode(), 3U);
    EXPECT_GT(last.h_sd_m(), 0);
    gpsd.kill(SIGKILL);
    fixes_before = fixes_of(host.seen, "gps.truck").size();
  }
  EXPECT_TRUE(eventually([&] { return host.seen.has_gap("gps.truck", "gpsd has gone"); }, 2s))
      << host.log();
  Program again("/usr/sbin/gpsd", arguments);
  EXPECT_TRUE(
      eventually([&] { return fixes_of(host.seen, "gps.truck").size() >= fixes_before + 5; }, 15s))
      << host.log();
  // The receiver falls silent while gpsd stays.
  size_t mark = host.seen.size();
  sim.kill(SIGTERM);
  EXPECT_TRUE(eventually([&] { return host.seen.has_gap("gps.truck", "", mark); }, 6s))
      << host.log();
  EXPECT_EQ(host.health_of("gps").starts, 1) << "none of this ends the plugin";
}

}  // namespace
}  // namespace fairlead::test
