// The line plugin against a real Modbus server (libmodbus) over TCP and over a serial line (a pty
// pair of socat). Known vector: registers 0x449A, 0x5000 are 1234.5 (IEEE 754 single precision).
#include <gtest/gtest.h>
#include <signal.h>

#include <algorithm>
#include <fstream>

#include "tests/sensors/harness.h"
#include "tests/sensors/modbus_device.h"

namespace fairlead::test {
namespace {

using namespace std::chrono_literals;

std::string tcp_config(int port, const std::string& more = "") {
  return "period_ms = 20\n[link]\nkind = \"tcp\"\nhost = \"127.0.0.1\"\nport = " +
         std::to_string(port) + "\ndeadline_ms = 200\n" + more;
}

const char* const kRegisters = R"(
[[register]]
signal = "line.pull"
unit = "N"
kind = "input"
address = 0
type = "float32"
[[register]]
signal = "line.out"
unit = "m"
kind = "holding"
address = 2
type = "float32"
word_order = "cdab"
[[register]]
signal = "deck.tilt"
unit = "deg"
kind = "input"
address = 4
type = "int16"
scale = 0.01
overload = [32767]
broken = [-32768]
)";

sensors::PluginSpec line_plugin(const std::string& config) {
  return {.id = "winch", .program = FAIRLEAD_PLUGIN_LINE, .settings_toml = config};
}

bool has_value(const Host& host, const std::string& source, const std::string& signal,
               double value) {
  auto values = host.seen.values(source, signal);
  return !values.empty() && values.back() == value;
}

void set_vectors(ModbusDevice& device) {
  device.set(0, 0x449A);
  device.set(1, 0x5000);
  // 7.9 m is 0x40FCCCCD; low word first.
  device.set(2, 0xCCCD);
  device.set(3, 0x40FC);
  device.set(4, 1100);
}

void expect_vectors(const Host& host) {
  ASSERT_TRUE(eventually([&] { return has_value(host, "line", "line.pull", 1234.5); }))
      << host.log();
  ASSERT_TRUE(eventually([&] { return has_value(host, "deck", "deck.tilt", 11.0); }));
  ASSERT_TRUE(eventually([&] { return !host.seen.values("line", "line.out").empty(); }));
  EXPECT_NEAR(host.seen.values("line", "line.out").back(), 7.9, 1e-6);
}

TEST(LineTest, KnownWordsOverTcp) {
  ModbusDevice device;
  set_vectors(device);
  Host host({line_plugin(tcp_config(device.port(), kRegisters))});
  expect_vectors(host);
}

TEST(LineTest, OverloadAndBrokenCodesComeThroughAsQuality) {
  ModbusDevice device;
  set_vectors(device);
  Host host({line_plugin(tcp_config(device.port(), kRegisters))});
  auto last_quality = [&] {
    for (auto all = host.seen.of("deck"); !all.empty(); all.pop_back()) {
      if (all.back().has_sample()) return all.back().quality();
    }
    return v1::Quality::UNSET;
  };
  device.set(4, 0x7FFF);
  EXPECT_TRUE(eventually([&] { return last_quality() == v1::Quality::OVERLOAD; })) << host.log();
  device.set(4, 0x8000);
  EXPECT_TRUE(eventually([&] { return last_quality() == v1::Quality::BROKEN; }));
  // A float that is no number is a gap, never a sample.
  device.set(0, 0x7FC0);
  device.set(1, 0);
  EXPECT_TRUE(eventually([&] { return host.seen.has_gap("line", "sent no number"); }));
  // A number no load cell shows (3.4e38 N) neither.
  device.set(0, 0x7F7F);
  EXPECT_TRUE(eventually([&] { return host.seen.has_gap("line", "not believed"); }));
  set_vectors(device);
  EXPECT_TRUE(eventually([&] { return has_value(host, "line", "line.pull", 1234.5); }));
}

TEST(LineTest, ASilentDeviceIsAGapWithinTheDeadlineAndComesBack) {
  ModbusDevice device;
  set_vectors(device);
  Host host({line_plugin(tcp_config(device.port(), kRegisters))});
  expect_vectors(host);
  device.set_silent(true);
  Lateness late;
  auto start = std::chrono::steady_clock::now();
  ASSERT_TRUE(eventually([&] { return host.seen.has_gap("line", ""); }, 2s)) << host.log();
  EXPECT_LT(std::chrono::steady_clock::now() - start, late.stretched(1500ms));
  EXPECT_TRUE(eventually([&] { return host.seen.has_gap("deck", ""); }, 2s)) << "every channel";
  size_t mark = host.seen.size();
  size_t samples = host.seen.values("line", "line.pull").size();
  std::this_thread::sleep_for(1s);
  EXPECT_EQ(host.seen.values("line", "line.pull").size(), samples);
  size_t gaps = 0;
  auto all = host.seen.all();
  for (size_t i = mark; i < all.size(); ++i) gaps += all[i].observation.has_gap();
  EXPECT_EQ(gaps, 0U) << "one mark a loss, not one a poll";
  device.set_silent(false);
  EXPECT_TRUE(
      eventually([&] { return host.seen.values("line", "line.pull").size() > samples + 5; }, 5s))
      << host.log();
  EXPECT_EQ(host.health_of("winch").starts, 1) << "the heartbeat went on";
}

TEST(LineTest, ADeviceThatComesLateIsFound) {
  int port = free_port();
  Host host({line_plugin(tcp_config(port, kRegisters))});
  ASSERT_TRUE(eventually([&] { return host.seen.has_gap("line", "no connection to"); }))
      << host.log();
  ModbusDevice device(port);
  set_vectors(device);
  expect_vectors(host);
}

TEST(LineTest, ARegisterTheDeviceDoesNotHaveIsAGapOfItsChannelOnly) {
  ModbusDevice device;
  set_vectors(device);
  std::string config = tcp_config(device.port(), kRegisters) +
                       "[[register]]\nsignal = \"battery.temp\"\nunit = \"degC\"\nkind = "
                       "\"input\"\naddress = 900\ntype = \"int16\"\n";
  Host host({line_plugin(config)});
  expect_vectors(host);
  EXPECT_TRUE(eventually([&] { return host.seen.has_gap("battery", "Illegal data address"); }))
      << host.log();
  EXPECT_FALSE(host.seen.has_gap("line", ""));
}

TEST(LineTest, KnownWordsOverASerialLine) {
  TempDir dir;
  std::string near = (dir.path() / "near").string();
  std::string far = (dir.path() / "far").string();
  Program pair("/usr/bin/socat", {"pty,raw,echo=0,link=" + near, "pty,raw,echo=0,link=" + far});
  ASSERT_TRUE(eventually([&] { return std::filesystem::exists(far); }));
  ModbusDevice device(far);
  set_vectors(device);
  std::string config = "period_ms = 20\n[link]\nkind = \"rtu\"\ndevice = \"" + near +
                       "\"\nbaud = 19200\nparity = \"even\"\ndeadline_ms = 200\n" + kRegisters;
  Host host({line_plugin(config)});
  expect_vectors(host);
  // The line is cut and comes back under the same name.
  size_t mark = host.seen.size();
  pair.kill(SIGKILL);
  EXPECT_TRUE(eventually([&] { return host.seen.has_gap("line", "", mark); }, 3s)) << host.log();
  EXPECT_EQ(host.health_of("winch").starts, 1);
}

TEST(LineTest, FollowsASimulatedWinch) {
  TempDir dir;
  std::string profile = (dir.path() / "winch.txt").string();
  std::ofstream(profile) << "0 line.pull 500\n1 line.pull 500\n2 line.pull 8900\n9 line.pull 8900\n"
                            "0 line.out 12\n2 line.out 4.1\n0 deck.tilt 11\n";
  Program sim(FAIRLEAD_SIM, {"modbus", "--profile", profile});
  int port = sim.port();
  ASSERT_NE(port, 0) << sim.output();
  Host host({line_plugin(tcp_config(port, R"(
[[register]]
signal = "line.pull"
unit = "N"
kind = "input"
address = 0
type = "float32"
[[register]]
signal = "line.out"
unit = "m"
kind = "input"
address = 2
type = "float32"
[[register]]
signal = "deck.tilt"
unit = "deg"
kind = "holding"
address = 4
type = "float32"
)"))});
  ASSERT_TRUE(eventually([&] { return has_value(host, "line", "line.pull", 8900); })) << host.log();
  auto pull = host.seen.values("line", "line.pull");
  EXPECT_EQ(pull.front(), 500);
  EXPECT_TRUE(std::is_sorted(pull.begin(), pull.end()));
  EXPECT_GT(pull.size(), 40U) << "50 a second for two seconds";
  EXPECT_NEAR(host.seen.values("line", "line.out").back(), 4.1, 1e-6);
  EXPECT_EQ(host.seen.values("deck", "deck.tilt").back(), 11);
}

}  // namespace
}  // namespace fairlead::test
