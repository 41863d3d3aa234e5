// Settings: defaults, refusals with line and nearest name, loopback only. No outside source: the
// file's form is our own; TOML itself is read by toml++.
#include "daemon/base/config.h"

#include <gtest/gtest.h>

#include <fstream>

#include "daemon/base/address.h"
#include "daemon/base/nearest.h"

namespace fairlead {
namespace {

std::string error_of(std::string_view text) {
  const auto config = config_from_text(text, "f.toml", "/etc/fairlead");
  return config ? "accepted" : config.error().message;
}

TEST(Config, NoFileIsABaseOnLoopback) {
  const Config config = default_config();
  EXPECT_EQ(config.role, Role::kBase);
  EXPECT_EQ(config.listen, "127.0.0.1:7400");
  EXPECT_TRUE(config.enrol_on_first_contact);
  EXPECT_EQ(config.data, "fairlead-data");
}

TEST(Config, EmptyFileEqualsDefaultsButForTheFolder) {
  const auto config = config_from_text("", "f.toml", "/etc/fairlead");
  ASSERT_TRUE(config) << config.error().message;
  EXPECT_EQ(config->listen, default_config().listen);
  EXPECT_EQ(config->data, "/etc/fairlead/fairlead-data");
}

TEST(Config, ReadsEveryKey) {
  const auto config = config_from_text(R"(role = "truck"
name = "OW-04"
data = "t4"
[truck]
base = "127.0.0.1:7500"
reconnect_longest_ms = 500
strip_span_ms = 2000
[files]
procedures = ["p"]
register = ["/r/fleet.textproto"]
[[plugin]]
id = "line"
program = "../bin/line"
required = true
[plugin.settings]
host = "127.0.0.1"
[[plugin.settings.register]]
address = 7
)",
                                       "f.toml", "/etc/fairlead");
  ASSERT_TRUE(config) << config.error().message;
  EXPECT_EQ(config->role, Role::kTruck);
  EXPECT_EQ(config->listen, "unix:/etc/fairlead/t4/truck.sock");
  EXPECT_EQ(config->base_address, "127.0.0.1:7500");
  EXPECT_EQ(config->reconnect_longest_ms, 500);
  EXPECT_EQ(config->strip_span_ms, 2000);
  ASSERT_EQ(config->procedures.size(), 1U);
  EXPECT_EQ(config->procedures[0], "/etc/fairlead/p");
  EXPECT_EQ(config->register_files[0], "/r/fleet.textproto");
  ASSERT_EQ(config->plugins.size(), 1U);
  EXPECT_TRUE(config->plugins[0].required);
  const std::string& settings = config->plugins[0].settings_toml;
  EXPECT_NE(settings.find("host = '127.0.0.1'"), std::string::npos) << settings;
  EXPECT_NE(settings.find("[[register]]"), std::string::npos) << settings;
  EXPECT_NE(settings.find("address = 7"), std::string::npos) << settings;
}

TEST(Config, UnknownKeysNameLineAndNearest) {
  EXPECT_EQ(error_of("role = \"base\"\nlisen = \"127.0.0.1:1\"\n"),
            "f.toml:2: lisen: unknown key; the nearest is 'listen'");
  EXPECT_EQ(error_of("[truck]\nbas = \"x\"\n"),
            "f.toml:2: truck.bas: unknown key; the nearest is 'base'");
  EXPECT_EQ(error_of("[[plugin]]\nid = \"a\"\nprograms = \"b\"\n"),
            "f.toml:3: plugin.programs: unknown key; the nearest is 'program'");
}

TEST(Config, WrongValuesNameLineAndRemedy) {
  EXPECT_EQ(error_of("\nrole = \"lot\"\n"),
            "f.toml:2: role: 'lot' is no role; write \"base\" or \"truck\"");
  EXPECT_EQ(error_of("role = 3\n"), "f.toml:1: role: must be a text in quotes");
  EXPECT_NE(error_of("name = \"a b\"\n").find("f.toml:1: name:"), std::string::npos);
  EXPECT_NE(error_of("[truck]\nstrip_span_ms = 0\n").find("f.toml:2: strip_span_ms:"),
            std::string::npos);
  EXPECT_NE(error_of("[[plugin]]\nid = \"a\"\n").find("plugin.program: is missing"),
            std::string::npos);
  EXPECT_NE(error_of("role = \n").find("f.toml:1:"), std::string::npos);
  EXPECT_NE(error_of(std::string(300 * 1024, '#')).find("256 kB"), std::string::npos);
}

TEST(Config, AnythingButThisMachineIsRefused) {
  for (const char* address : {"0.0.0.0:7400", "192.168.1.4:7400", "[::]:7400", "example:7400"}) {
    const auto words = error_of(std::string("\nlisten = \"") + address + "\"\n");
    EXPECT_NE(words.find("f.toml:2: listen:"), std::string::npos) << words;
    EXPECT_NE(words.find("outside this machine"), std::string::npos) << words;
    EXPECT_EQ(check_local_address(address).error().code, Code::kDenied);
  }
  for (const char* address :
       {"127.0.0.1:0", "127.9.9.9:65535", "[::1]:7400", "localhost:80", "unix:/tmp/a"}) {
    EXPECT_TRUE(check_local_address(address)) << address;
  }
  for (const char* address :
       {"127.0.0.1", "127.0.0.1:", "127.0.0.1:65536", "127.0.0.1:8x", "unix:a", "unix:"}) {
    ASSERT_FALSE(check_local_address(address)) << address;
    EXPECT_EQ(check_local_address(address).error().code, Code::kBadInput) << address;
  }
  EXPECT_FALSE(check_local_address("unix:/" + std::string(107, 'a')));
  EXPECT_TRUE(check_local_address("unix:/" + std::string(106, 'a')));
}

TEST(Config, RetentionAndDisk) {
  const auto config = config_from_text(
      "[retention]\non = false\njob_months = 48\n[disk]\nentries_mib = 20\nscrub_days = 1\n",
      "a.toml", "");
  ASSERT_TRUE(config) << config.error().message;
  EXPECT_FALSE(config->retention.on);
  EXPECT_EQ(48, config->retention.job_months);
  EXPECT_EQ(3, config->retention.loose_strip_months);
  EXPECT_EQ(30, config->retention.truck_days);
  EXPECT_EQ(7, config->retention.truck_cosigned_days);
  EXPECT_FALSE(config_from_text("[retention]\ntruck_days = 0\n", "a.toml", ""));
  EXPECT_EQ(20, config->disk.entries_mib);
  EXPECT_EQ(5, config->disk.entries_percent);
  EXPECT_EQ(1, config->disk.scrub_days);
  const auto wrong = config_from_text("[retention]\njob_months = 0\n", "a.toml", "");
  ASSERT_FALSE(wrong);
  EXPECT_EQ("a.toml:2: job_months: must be a whole number from 1 to 1200", wrong.error().message);
}

TEST(Config, TheSampleIsAValidFileAndEqualsTheDefaults) {
  const auto config = config_from_text(sample_config(), "sample", "");
  ASSERT_TRUE(config) << config.error().message;
  const Config plain = default_config();
  EXPECT_EQ(config->listen, plain.listen);
  EXPECT_EQ(config->data, plain.data);
  EXPECT_EQ(config->reconnect_longest_ms, plain.reconnect_longest_ms);
  EXPECT_EQ(config->strip_span_ms, plain.strip_span_ms);
  EXPECT_EQ(config->base_address, plain.base_address);
  EXPECT_TRUE(config->plugins.empty());
}

TEST(Config, AMissingFileIsSaid) {
  const auto config = load_config("/nonexistent/fairlead.toml");
  ASSERT_FALSE(config);
  EXPECT_EQ(config.error().code, Code::kIo);
}

// Distances worked by hand after the usual definition (Levenshtein 1966).
TEST(Nearest, CountsEdits) {
  EXPECT_EQ(edit_distance("kitten", "sitting"), 3U);
  EXPECT_EQ(edit_distance("", "abc"), 3U);
  EXPECT_EQ(edit_distance("same", "same"), 0U);
  const std::vector<std::string_view> words = {"listen", "role"};
  EXPECT_EQ(nearest("lissen", words), "listen");
  EXPECT_EQ(nearest("xyz", words), "");
}

TEST(Config, BeyondThisMachineOnlyWithCertificates) {
  const std::string tls = "[tls]\ncertificate = \"tls/tls.crt\"\nkey = \"k\"\nca = \"ca\"\n";
  EXPECT_NE(error_of("listen = \"0.0.0.0:7400\"\n").find("fairlead enrol certificate"),
            std::string::npos);
  EXPECT_NE(error_of("role = \"truck\"\n[truck]\nbase = \"lot.example:7400\"\n").find("f.toml:3"),
            std::string::npos);
  const auto base = config_from_text("listen = \"0.0.0.0:7400\"\n" + tls, "f.toml", "/e");
  ASSERT_TRUE(base) << base.error().message;
  EXPECT_EQ(base->tls.certificate, "/e/tls/tls.crt");
  EXPECT_EQ(base->tls.key, "/e/k");
  const auto truck = config_from_text(
      "role = \"truck\"\n[truck]\nbase = \"lot.example:7400\"\n" + tls, "f.toml", "/e");
  ASSERT_TRUE(truck) << truck.error().message;
  EXPECT_EQ(truck->base_address, "lot.example:7400");
  // A truck's own door stays on its own machine.
  EXPECT_NE(error_of("role = \"truck\"\nlisten = \"0.0.0.0:1\"\n" + tls), "accepted");
}

TEST(ConfigOfMail, ReadsEveryKeyAndTheSample) {
  const std::string text = R"([mail]
server = "smtp://mail.example.org:587"
from = "base@example.org"
user = "base"
password_file = "pw"
ca = "/ca.pem"
[[schedule]]
name = "insurer"
every = "quarterly"
zone = "Europe/Dublin"
to = ["a@example.org", "b@example.org"]
paper = "LETTER"
)";
  const auto settings = config_from_text(text, "f.toml", "/e");
  ASSERT_TRUE(settings) << settings.error().message;
  EXPECT_EQ(settings->mail.password_file, "/e/pw");
  EXPECT_EQ(settings->mail.ca, "/ca.pem");
  EXPECT_TRUE(settings->mail.tls);
  ASSERT_EQ(settings->schedules.size(), 1U);
  EXPECT_EQ(settings->schedules[0].every, "quarterly");
  EXPECT_EQ(settings->schedules[0].to.size(), 2U);
  EXPECT_EQ(error_of(sample_config()), "accepted");
  EXPECT_TRUE(config_from_text("", "f.toml", "/e")->schedules.empty());
}

TEST(ConfigOfMail, RefusesWhatCannotBeSentSafely) {
  const std::string mail = "[mail]\nserver = \"smtp://m.example:25\"\nfrom = \"b@x.example\"\n";
  const auto schedule = [](const std::string& more) {
    return "[[schedule]]\nname = \"insurer\"\n" + more;
  };
  EXPECT_NE(error_of("[mail]\nserver = \"http://m\"\n").find("smtp://"), std::string::npos);
  EXPECT_NE(error_of(mail + "tls = false\n").find("may be false only"), std::string::npos);
  EXPECT_NE(error_of(mail + "frm = \"x\"\n").find("nearest is 'from'"), std::string::npos);
  EXPECT_NE(error_of(mail + schedule("to = [\"a@x.example\\r\\nBcc: b@x.example\"]\n"))
                .find("is no address"),
            std::string::npos);
  EXPECT_NE(error_of(schedule("to = [\"a@x.example\"]\n")).find("needs a [mail]"),
            std::string::npos);
  EXPECT_NE(error_of(mail + schedule("every = \"daily\"\n")).find("weekly"), std::string::npos);
  EXPECT_NE(error_of(mail + schedule("") + schedule("")).find("twice"), std::string::npos);
  EXPECT_NE(error_of("[[schedule]]\nname = \"../x\"\n").find("letters"), std::string::npos);
}

}  // namespace
}  // namespace fairlead
