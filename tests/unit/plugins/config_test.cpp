// A plugin's configuration: every mistake is named by its field, with what to do (TOML v1.0
// syntax).
#include "plugins/sdk/config.h"

#include <gtest/gtest.h>

#include <fstream>
#include <iterator>

#include "daemon/base/config.h"
#include "plugins/gps/config.h"
#include "plugins/line/config.h"

namespace fairlead {
namespace {

std::string text_of(const sdk::Problems& problems) {
  std::string text;
  for (const auto& p : problems) text += p.field() + ": " + p.problem() + "; " + p.remedy() + "\n";
  return text;
}

std::string line_problems(const std::string& toml) {
  line::Settings settings;
  return text_of(line::read_settings(toml, settings));
}

// The first ```toml block of a README, as the daemon hands its settings to the plugin: what a
// reader copies must work.
std::string sample_of(const std::string& readme) {
  std::ifstream in(readme);
  std::string text{std::istreambuf_iterator<char>(in), {}};
  size_t begin = text.find("```toml\n");
  size_t end = text.find("```", begin + 8);
  EXPECT_NE(begin, std::string::npos) << readme;
  std::string toml = begin == std::string::npos ? "" : text.substr(begin + 8, end - begin - 8);
  auto config = config_from_text("role = \"truck\"\n" + toml, readme, "/");
  EXPECT_TRUE(config) << (config ? "" : config.error().message);
  EXPECT_TRUE(config && config->plugins.size() == 1);
  return config && !config->plugins.empty() ? config->plugins[0].settings_toml : "";
}

const char* const kLine = R"(
period_ms = 50
[link]
kind = "tcp"
host = "127.0.0.1"
port = 1502
[[register]]
signal = "line.pull"
unit = "N"
kind = "input"
address = 0
type = "float32"
)";

TEST(ConfigTest, ReadsARegisterMap) {
  line::Settings settings;
  EXPECT_EQ(text_of(line::read_settings(std::string(kLine) + R"(
[[register]]
signal = "deck.tilt"
unit = "deg"
kind = "holding"
address = 7
type = "int16"
scale = 0.01
offset = -1.5
unit_id = 3
overload = [32767]
broken = [-32768]
)",
                                        settings)),
            "");
  EXPECT_EQ(settings.period_us, 50'000);
  EXPECT_EQ(settings.link.port, 1502);
  ASSERT_EQ(settings.registers.size(), 2U);
  EXPECT_EQ(settings.registers[0].source, "line");
  EXPECT_EQ(settings.registers[1].source, "deck") << "from the signal unless told otherwise";
  EXPECT_EQ(settings.registers[1].device, 3);
  EXPECT_EQ(settings.registers[1].overload, (std::vector<int64_t>{32767}));
  auto channels = line::channels_of(settings);
  EXPECT_EQ(channels[1].resolution(), 0.01);
  EXPECT_DOUBLE_EQ(channels[1].range_lo(), -329.18);
  EXPECT_DOUBLE_EQ(channels[1].range_hi(), 326.17);
  EXPECT_EQ(channels[0].rate_hz(), 20);
}

TEST(ConfigTest, TheReadmesSamplesAreGood) {
  line::Settings line_settings;
  EXPECT_EQ(text_of(line::read_settings(sample_of("plugins/line/README.md"), line_settings)), "");
  EXPECT_EQ(line_settings.registers.size(), 4U);
  EXPECT_EQ(line_settings.outputs.size(), 2U);
  gps::Settings gps_settings;
  EXPECT_EQ(text_of(gps::read_settings(sample_of("plugins/gps/README.md"), gps_settings)), "");
  EXPECT_EQ(gps_settings.receivers.size(), 2U);
}

TEST(ConfigTest, FilterCalibrationDrumBitsAndOutputs) {
  line::Settings settings;
  EXPECT_EQ(text_of(line::read_settings(std::string(kLine) + R"(filter = "lowpass"
filter_ms = 100
calibration = { certificate = "C-17", date = "2026-03-02", zero = 12.5, span = 1.0031 }
[[register]]
signal = "line.out"
unit = "m"
kind = "holding"
address = 4
type = "int32"
scale = 0.01
filter = "median3"
drum = { diameter_mm = 100, width_mm = 200, rope_mm = 10, rope_length_m = 25 }
[[register]]
signal = "clamp.pos.contact"
unit = "1"
kind = "discrete"
address = 0
[[output]]
output = "buzzer"
coil = 7
unit_id = 2
about = "in the cab"
)",
                                        settings)),
            "");
  auto channels = line::channels_of(settings);
  ASSERT_EQ(channels.size(), 3U);
  EXPECT_EQ(channels[0].convention(), "low-pass 100 ms");
  EXPECT_EQ(channels[0].calibration(), "C-17 of 2026-03-02; zero 12.5; span 1.0031");
  EXPECT_EQ(channels[1].convention(), "median of 3; turns of a drum, 25 m of rope in 4 layers");
  EXPECT_EQ(channels[1].range_hi(), 25) << "all of the rope";
  EXPECT_EQ(channels[2].range_hi(), 1);
  auto outputs = line::outputs_of(settings);
  ASSERT_EQ(outputs.size(), 1U);
  EXPECT_EQ(outputs[0].output(), "buzzer");
  EXPECT_EQ(outputs[0].about(), "in the cab");
  EXPECT_EQ(settings.outputs[0].address, 7);
}

TEST(ConfigTest, MistakesOfCalibrationDrumAndOutputs) {
  std::string text = line_problems(std::string(kLine) + R"(filter = "lowpass"
calibration = { date = "2.3.2026", span = 0 }
drum = { diameter_mm = 100, width_mm = 5, rope_mm = 10, rope_length_m = 25 }
[[output]]
output = "lamp"
coil = 1
[[output]]
output = "lamp"
coil = 70000
)");
  for (const char* words :
       {"register[1].filter_ms: is missing", "register[1].calibration.certificate: is missing",
        "register[1].calibration.date: \"2.3.2026\" is no date; write it as 2026-03-02",
        "register[1].calibration.span: is 0", "register[1].drum: is for line.out only",
        "output[2].coil: 70000 is out of range", "output[2].output: \"lamp\" is there twice"}) {
    EXPECT_NE(text.find(words), std::string::npos) << words << "\n" << text;
  }
}

TEST(ConfigTest, ADaemonsFileHoldsTheSettingsOfEachProgram) {
  std::string file =
      "role = \"truck\"\n[[plugin]]\nid = \"a\"\nprogram = \"/x/fairlead-plugin-gps\"\n"
      "[[plugin.settings.receiver]]\nsource = \"gps.truck\"\n"
      "[[plugin]]\nid = \"b\"\nprogram = \"fairlead-plugin-line\"\n";
  auto gps = sdk::settings_for(file, "fairlead-plugin-gps");
  ASSERT_EQ(gps.size(), 1U);
  gps::Settings settings;
  EXPECT_EQ(text_of(gps::read_settings(gps[0], settings)), "");
  EXPECT_EQ(settings.receivers.at(0).source, "gps.truck");
  EXPECT_EQ(sdk::settings_for(file, "fairlead-plugin-line").size(), 1U) << "none given";
  EXPECT_TRUE(sdk::settings_for(file, "fairlead-plugin-clamp").empty());
  EXPECT_TRUE(sdk::settings_for(kLine, "fairlead-plugin-line").empty());
  EXPECT_TRUE(sdk::settings_for("plugin = [[", "x").empty());
}

TEST(ConfigTest, UnknownKeysNameTheFieldTheLineAndTheNearest) {
  EXPECT_EQ(line_problems(std::string(kLine) + "adress = 3\n"),
            "register[1].adress: unknown key; did you mean \"address\"?\n");
}

TEST(ConfigTest, EveryMistakeIsSaidAtOnce) {
  std::string text = line_problems(R"(
period_ms = "fast"
[link]
kind = "udp"
host = "winch"
[[register]]
signal = "line.pul"
unit = "N"
kind = "input"
address = 70000
type = "float64"
scale = 0
)");
  EXPECT_NE(text.find("period_ms: is not a whole number; give a whole number from 10 to 60000\n"),
            std::string::npos)
      << text;
  EXPECT_NE(text.find("link.kind: \"udp\" is none of its words; use one of tcp, rtu\n"),
            std::string::npos)
      << text;
  EXPECT_NE(text.find("link.host: is no IPv4 address"), std::string::npos) << text;
  EXPECT_NE(text.find("register[1].signal: \"line.pul\" is unknown; did you mean \"line.pull\"?\n"),
            std::string::npos)
      << text;
  EXPECT_NE(text.find("register[1].address: 70000 is out of range"), std::string::npos) << text;
  EXPECT_NE(text.find("register[1].type: \"float64\" is none of its words"), std::string::npos)
      << text;
  EXPECT_NE(text.find("register[1].scale: is 0"), std::string::npos) << text;
}

TEST(ConfigTest, AUnitTheRecordDoesNotUseIsRefused) {
  std::string toml(kLine);
  toml.replace(toml.find("\"N\""), 3, "\"kN\"");
  EXPECT_EQ(line_problems(toml),
            "register[1].unit: line.pull is recorded in N, not kN; set scale so that the value "
            "comes out in N\n");
}

TEST(ConfigTest, BrokenTomlSaysWhere) {
  std::string text = line_problems("period_ms = 100\n[link\n");
  EXPECT_EQ(text.substr(0, 16), "config: line 2, ") << text;
}

TEST(ConfigTest, HostileTextIsRefusedNotRecursedInto) {
  EXPECT_NE(line_problems("a = " + std::string(200'000, '[')).find("nested too deep"),
            std::string::npos);
  EXPECT_NE(line_problems("# " + std::string(300'000, 'x')).find("too long"), std::string::npos);
}

TEST(ConfigTest, GpsTakesSeveralReceiversOnThisMachineOnly) {
  gps::Settings settings;
  EXPECT_EQ(text_of(gps::read_settings(R"(
[[receiver]]
source = "gps.truck"
device = "/dev/gps0"
[[receiver]]
source = "gps.tag"
port = 2948
)",
                                       settings)),
            "");
  ASSERT_EQ(settings.receivers.size(), 2U);
  EXPECT_EQ(settings.receivers[0].port, 2947) << "gpsd's port, IANA";
  EXPECT_EQ(settings.receivers[1].port, 2948);
  EXPECT_EQ(gps::channels_of(settings)[1].source(), "gps.tag");

  gps::Settings none;
  EXPECT_EQ(text_of(gps::read_settings("", none)),
            "receiver: is missing; give one [[receiver]] table or more\n");
  std::string text = text_of(gps::read_settings(
      "[[receiver]]\nsource = \"a\"\nhost = \"10.0.0.1\"\n[[receiver]]\nsource = \"a\"\n", none));
  EXPECT_NE(text.find("receiver[1].host: \"10.0.0.1\" is none of its words"), std::string::npos);
  EXPECT_NE(text.find("receiver[2].source: \"a\" is there twice"), std::string::npos);
}

}  // namespace
}  // namespace fairlead
