// The supervisor with real plugin processes: killed, stopped, absent, misconfigured, a full
// recorder, a daemon that is killed. Times: the project's own targets (gap in the stream within 2
// s, plugins gone within 5 s of the daemon).
#include <gtest/gtest.h>
#include <signal.h>
#include <unistd.h>

#include <cmath>
#include <fstream>
#include <sstream>

#include "tests/sensors/harness.h"
#include "tests/sensors/modbus_device.h"

namespace fairlead::test {
namespace {

using namespace std::chrono_literals;

// Polls the counter register: a lost sample is a hole in the numbers.
sensors::PluginSpec counting(const std::string& id, const ModbusDevice& device,
                             const std::string& source) {
  return {
      .id = id,
      .program = FAIRLEAD_PLUGIN_LINE,
      .settings_toml = "period_ms = 10\n[link]\nkind = \"tcp\"\nhost = \"127.0.0.1\"\nport = " +
                       std::to_string(device.port()) + "\n[[register]]\nsource = \"" + source +
                       "\"\nsignal = \"line.pull\"\nunit = \"N\"\nkind = \"input\"\naddress = " +
                       std::to_string(ModbusDevice::kCounterRegister) + "\ntype = \"uint16\"\n"};
}

void expect_without_hole(const std::vector<double>& values) {
  ASSERT_FALSE(values.empty());
  for (size_t i = 1; i < values.size(); ++i) {
    ASSERT_EQ(values[i], values[i - 1] + 1) << "at sample " << i;
  }
}

bool process_runs(int pid) {
  std::ifstream stat("/proc/" + std::to_string(pid) + "/stat");
  std::string id, name, state;
  return (stat >> id >> name >> state) && state != "Z";
}

TEST(SupervisorTest, AKilledPluginIsMarkedAtOnceAndComesBackTheOtherLosesNothing) {
  ModbusDevice first, second;
  Host host({counting("a", first, "line.a"), counting("b", second, "line.b")});
  auto count = [&](const char* source) { return host.seen.values(source, "line.pull").size(); };
  ASSERT_TRUE(eventually([&] { return count("line.a") > 20 && count("line.b") > 20; }))
      << host.log();
  for (int round = 1; round <= 2; ++round) {
    size_t mark = host.seen.size();
    int pid = host.pid_of("a");
    Lateness late;
    auto killed_at = std::chrono::steady_clock::now();
    ASSERT_EQ(kill(pid, SIGKILL), 0);
    ASSERT_TRUE(eventually([&] { return host.seen.has_gap("line.a", "", mark); }, 4s))
        << host.log();
    EXPECT_LT(std::chrono::steady_clock::now() - killed_at, late.stretched(1s));
    EXPECT_TRUE(host.seen.has_state("line.a", "missing", mark));
    size_t before = count("line.a");
    ASSERT_TRUE(eventually([&] { return count("line.a") > before + 20; }, 10s)) << host.log();
    EXPECT_TRUE(host.seen.has_state("line.a", "live", mark));
    EXPECT_NE(host.pid_of("a"), pid);
  }
  EXPECT_EQ(host.health_of("a").starts, 3);
  EXPECT_EQ(host.health_of("b").starts, 1);
  EXPECT_NE(host.log().find("killed by signal 9"), std::string::npos) << host.log();
  host.supervisor().stop();
  expect_without_hole(host.seen.values("line.b", "line.pull"));
  EXPECT_EQ(host.seen.values("line.b", "line.pull").front(), 1);
}

TEST(SupervisorTest, AStoppedPluginIsStaleWithinTwoSecondsAndReplaced) {
  ModbusDevice device;
  sensors::Limits limits;
  limits.kill_stale_us = 500'000;
  limits.term_grace_us = 500'000;
  Host host({counting("a", device, "line")}, limits);
  ASSERT_TRUE(eventually([&] { return host.seen.values("line", "line.pull").size() > 20; }));
  int pid = host.pid_of("a");
  size_t mark = host.seen.size();
  Lateness late;
  auto stopped_at = std::chrono::steady_clock::now();
  ASSERT_EQ(kill(pid, SIGSTOP), 0);
  ASSERT_TRUE(eventually([&] { return host.seen.has_gap("line", "no heartbeat", mark); }, 4s))
      << host.log();
  EXPECT_LT(std::chrono::steady_clock::now() - stopped_at, late.stretched(2s));
  ASSERT_TRUE(eventually([&] { return host.seen.has_state("line", "live", mark); }, 8s))
      << host.log();
  EXPECT_NE(host.pid_of("a"), pid);
  EXPECT_FALSE(process_runs(pid)) << "SIGTERM does not reach a stopped process, SIGKILL does";
}

TEST(SupervisorTest, AStoppedPluginThatWakesGoesOn) {
  ModbusDevice device;
  Host host({counting("a", device, "line")});
  ASSERT_TRUE(eventually([&] { return host.seen.values("line", "line.pull").size() > 20; }));
  int pid = host.pid_of("a");
  size_t mark = host.seen.size();
  kill(pid, SIGSTOP);
  ASSERT_TRUE(eventually([&] { return host.seen.has_gap("line", "no heartbeat", mark); }, 4s));
  kill(pid, SIGCONT);
  ASSERT_TRUE(eventually([&] { return host.seen.has_state("line", "live", mark); }, 4s))
      << host.log();
  EXPECT_EQ(host.pid_of("a"), pid);
}

TEST(SupervisorTest, MissingAndMisconfiguredSensorsAreSaidAndTheRestIsRecorded) {
  ModbusDevice device;
  sensors::PluginSpec absent{.id = "clamp",
                             .program = "/nonexistent/fairlead-plugin-clamp",
                             .settings_toml = "",
                             .required = true};
  sensors::PluginSpec wrong = counting("tilt", device, "deck");
  wrong.settings_toml += "colour = \"red\"\n";
  Host host({absent, wrong, counting("a", device, "line")});
  EXPECT_TRUE(eventually([&] { return host.seen.values("line", "line.pull").size() > 20; }))
      << host.log();
  EXPECT_TRUE(eventually([&] { return host.seen.has_gap("clamp", "cannot be started"); }));
  EXPECT_TRUE(host.seen.has_state("clamp", "missing"));
  EXPECT_TRUE(eventually([&] {
    return host.seen.has_gap("tilt", "register[1].colour: unknown key");
  })) << host.log();
  EXPECT_TRUE(eventually([&] { return host.health_of("clamp").starts >= 3; }, 5s))
      << "it is tried again and again";
  EXPECT_TRUE(host.health_of("clamp").required);
}

TEST(SupervisorTest, AFullRecorderLosesNothing) {
  ModbusDevice device;
  Host host({counting("a", device, "line")});
  ASSERT_TRUE(eventually([&] { return host.seen.values("line", "line.pull").size() > 20; }));
  size_t before = host.seen.size();
  host.seen.set_full(true);
  std::this_thread::sleep_for(3s);
  EXPECT_LE(host.seen.size(), before + 2);
  host.seen.set_full(false);
  uint64_t requests = device.requests();
  ASSERT_TRUE(eventually([&] {
    auto values = host.seen.values("line", "line.pull");
    return !values.empty() && values.back() > static_cast<double>(requests);
  })) << host.log();
  host.supervisor().stop();
  expect_without_hole(host.seen.values("line", "line.pull"));
  EXPECT_FALSE(host.seen.has_gap("line", "buffer full"));
}

TEST(SupervisorTest, StopEndsThePluginsAndDeliversWhatTheyStillSent) {
  ModbusDevice device;
  Host host({counting("a", device, "line")});
  ASSERT_TRUE(eventually([&] { return host.seen.values("line", "line.pull").size() > 20; }));
  int pid = host.pid_of("a");
  Lateness late;
  auto start = std::chrono::steady_clock::now();
  host.supervisor().stop();
  EXPECT_LT(std::chrono::steady_clock::now() - start, late.stretched(2s));
  EXPECT_FALSE(process_runs(pid));
  expect_without_hole(host.seen.values("line", "line.pull"));
  auto all = host.seen.of("line");
  ASSERT_FALSE(all.empty());
  EXPECT_EQ(all.back().gap().cause(), "stopped with the daemon");
}

TEST(SupervisorTest, ASecondDaemonOnTheSameFolderIsRefused) {
  ModbusDevice device;
  Host host({counting("a", device, "line")});
  sensors::SupervisorOptions options;
  options.runtime_dir = host.dir.path() / "run";
  Collector other;
  auto second = sensors::Supervisor::start(options, {}, other.sink());
  ASSERT_FALSE(second);
  EXPECT_EQ(second.error().code, Code::kConflict);
  EXPECT_TRUE(eventually([&] { return host.seen.values("line", "line.pull").size() > 20; }))
      << "the first one's socket was not taken over";
}

TEST(SupervisorTest, AFolderOthersMayEnterIsRefused) {
  TempDir dir;
  std::filesystem::create_directory(dir.path() / "run");
  std::filesystem::permissions(dir.path() / "run", std::filesystem::perms(0755));
  sensors::SupervisorOptions options;
  options.runtime_dir = dir.path() / "run";
  Collector seen;
  auto refused = sensors::Supervisor::start(options, {}, seen.sink());
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, Code::kDenied);
  options.runtime_dir = dir.path() / std::string(120, 'x');
  EXPECT_EQ(sensors::Supervisor::start(options, {}, seen.sink()).error().code, Code::kBadInput);
}

TEST(SupervisorTest, WithoutTheirDaemonPluginsEndWithinFiveSeconds) {
  ModbusDevice device;
  TempDir dir;
  Program host(FAIRLEAD_TEST_HOST, {(dir.path() / "run").string(), FAIRLEAD_PLUGIN_LINE,
                                    counting("a", device, "line").settings_toml});
  int pid = 0;
  ASSERT_TRUE(eventually([&] {
    std::string text = host.output();
    size_t at = text.find("plugin is process ");
    bool live = at != std::string::npos && device.requests() > 20;
    if (live) pid = std::atoi(text.c_str() + at + 18);
    return live;
  })) << host.output();
  ASSERT_TRUE(process_runs(pid));
  // Only the daemon itself, not its group.
  ASSERT_EQ(kill(host.pid(), SIGKILL), 0);
  EXPECT_TRUE(eventually([&] { return !process_runs(pid); }, 5s));
}

}  // namespace
}  // namespace fairlead::test
