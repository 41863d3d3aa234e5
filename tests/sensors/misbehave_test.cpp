// Plugins that misbehave beside one that does not: whatever they do, the good one's samples lose
// nothing (counted), the record shows each gap with its cause within 2 s, and the daemon's memory
// stays bounded. Targets are the project's own.
//
// FAIRLEAD_MISBEHAVIOURS=1000 makes the random part long (sh tests/long.sh misbehave).
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <optional>
#include <sstream>
#include <thread>

#include "daemon/sensors/usage.h"
#include "tests/sensors/harness.h"

namespace fairlead::test {
namespace {

using namespace std::chrono_literals;

sensors::PluginSpec plugin(const std::string& id, const std::string& word, int rate_hz,
                           const std::string& more = {}) {
  return {.id = id,
          .program = FAIRLEAD_PLUGIN_MISBEHAVE,
          .settings_toml = fmt::format("misbehave = \"{}\"\nsource = \"{}\"\nrate_hz = {}\n{}",
                                       word, id, rate_hz, more)};
}

void expect_without_hole(const Host& host, const std::string& id) {
  std::vector<double> values = host.seen.values(id, "line.pull");
  ASSERT_FALSE(values.empty()) << id;
  EXPECT_EQ(values.front(), 0) << id;
  for (size_t i = 1; i < values.size(); ++i) {
    ASSERT_EQ(values[i], static_cast<int>(values[i - 1] + 1) % 100'000) << id << ", sample " << i;
  }
}

int64_t own_rss_kib() { return sensors::usage_of(getpid())->rss_kib; }

// From the source's last sample before it until the gap with these words, as they were delivered;
// none when it does not come within 15 s. A source that never gave a sample: from its start.
std::optional<std::chrono::milliseconds> until_gap(const Host& host, const std::string& source,
                                                   const std::string& words) {
  if (!eventually([&] { return host.seen.has_gap(source, words); }, 15s)) return std::nullopt;
  std::optional<std::chrono::steady_clock::time_point> last;
  for (const Collector::Entry& e : host.seen.all()) {
    const v1::Observation& o = e.observation;
    if (o.source() != source) continue;
    bool is_it = o.has_gap() && o.gap().cause().find(words) != std::string::npos;
    if (is_it)
      return std::chrono::duration_cast<std::chrono::milliseconds>(e.at - last.value_or(e.at));
    if (o.has_sample()) last = e.at;
  }
  return std::nullopt;
}

// Somebody of this process group, the dead apart.
bool group_runs(int group) {
  std::error_code error;
  for (std::filesystem::directory_iterator it("/proc", error), end; !error && it != end;
       it.increment(error)) {
    std::string name = it->path().filename();
    if (name.find_first_not_of("0123456789") != std::string::npos) continue;
    std::ifstream file(it->path() / "stat");
    std::string text;
    std::getline(file, text);  // A process that has just ended gives nothing.
    size_t behind = text.rfind(')');
    if (behind == std::string::npos) continue;
    std::istringstream words(text.substr(behind + 1));
    std::string state;
    int parent = 0, of = 0;
    if (words >> state >> parent >> of && of == group && state != "Z") return true;
  }
  return false;
}

struct Case {
  const char* word;
  const char* cause;
};
// What it does, and what the record says of it.
constexpr Case kCases[] = {
    {"crash", "killed by signal 6"},
    {"quit", "exit status 0"},
    {"batch_hole", "one is missing"},
    {"huge_batch", "readings; send at most"},
    {"describe_again", "described anew"},
    {"hello_again", "second hello"},
    {"bad_channel", "never described"},
    {"bad_unit", "is recorded in m"},
    {"bad_signal", "did you mean \"line.out\""},
    {"lie", "not believed"},
    {"not_a_number", "not believed"},
    {"wrong_kind", "another kind"},
    {"clock_jump", "clocks are not this machine's"},
    {"mono_back", "clocks are not this machine's"},
    {"stop", "no heartbeat"},
    {"hang", "no heartbeat"},
    {"flood", "readings a second"},
    {"open_files", "open files"},
};

class EachMisbehaviour : public testing::TestWithParam<Case> {};

TEST_P(EachMisbehaviour, TheRecordSaysWhyAndTheOtherLosesNothing) {
  sensors::Limits limits;
  limits.most_readings_s = 400;
  limits.most_open_files = 60;
  Lateness late;
  Host host({plugin("good", "none", 100), plugin("bad", GetParam().word, 50, "after_ms = 300\n")},
            limits);
  ASSERT_TRUE(eventually([&] { return host.seen.values("good", "line.pull").size() > 20; }, 40s))
      << host.log();
  int64_t first_kib = own_rss_kib();
  auto took = until_gap(host, "bad", GetParam().cause);
  ASSERT_TRUE(took) << host.log();
  EXPECT_LT(*took, late.stretched(2s));
  host.supervisor().stop();
  expect_without_hole(host, "good");
  EXPECT_LT(own_rss_kib() - first_kib, 32 * 1024);
}

INSTANTIATE_TEST_SUITE_P(Words, EachMisbehaviour, testing::ValuesIn(kCases),
                         [](const auto& one) { return std::string(one.param.word); });

TEST(MisbehaveTest, ALeakIsEndedAtItsLimitAndAgainTheNextTime) {
  sensors::Limits limits;
  limits.most_rss_kib = 40 * 1024;
  limits.backoff_first_us = 100'000;
  Host host({plugin("good", "none", 100), plugin("bad", "leak", 50)}, limits);
  ASSERT_TRUE(eventually([&] { return host.health_of("bad").starts >= 2; }, 20s)) << host.log();
  EXPECT_TRUE(host.seen.has_gap("bad", "MiB of memory, allowed are 40")) << host.log();
  host.supervisor().stop();
  expect_without_hole(host, "good");
}

TEST(MisbehaveTest, AnOrphanDoesNotOutliveItsPlugin) {
  sensors::Limits limits;
  limits.backoff_first_us = 100'000;
  Host host({plugin("bad", "orphan", 50)}, limits);
  ASSERT_TRUE(eventually([&] { return host.seen.values("bad", "line.pull").size() > 20; }, 40s));
  int pid = host.pid_of("bad");
  ASSERT_EQ(kill(pid, SIGKILL), 0);
  ASSERT_TRUE(eventually([&] { return host.health_of("bad").starts >= 2; }));
  EXPECT_FALSE(group_runs(pid)) << "its group is gone with it";
}

TEST(MisbehaveTest, OneThatIgnoresTheRequestIsKilled) {
  sensors::Limits limits;
  limits.term_grace_us = 500'000;
  Host host({plugin("good", "none", 100), plugin("bad", "ignore_term", 50)}, limits);
  ASSERT_TRUE(eventually([&] { return host.seen.values("bad", "line.pull").size() > 20; }, 40s));
  int pid = host.pid_of("bad");
  Lateness late;
  auto begun = std::chrono::steady_clock::now();
  host.supervisor().stop();
  auto took = std::chrono::steady_clock::now() - begun;
  EXPECT_GE(took, 500ms) << "it was asked first";
  EXPECT_LT(took, late.stretched(1s));
  EXPECT_FALSE(group_runs(pid));
}

TEST(MisbehaveTest, ChatterIsCutInTheLog) {
  Host host({plugin("good", "none", 100), plugin("bad", "chatter", 50)});
  ASSERT_TRUE(eventually([&] { return host.seen.values("good", "line.pull").size() > 200; }));
  std::string log = host.log();
  auto lines = std::count(log.begin(), log.end(), '\n');
  EXPECT_LT(lines, 200) << "20 a second and what the daemon says itself";
  EXPECT_NE(log.find("lines left out"), std::string::npos) << log;
  host.supervisor().stop();
  expect_without_hole(host, "good");
}

TEST(MisbehaveTest, AnotherLanguagesPluginUsesTheLockedPath) {
  TempDir dir;
  std::filesystem::create_symlink(FAIRLEAD_PLUGIN_MISBEHAVE, dir.path() / "vendor-plugin");
  sensors::PluginSpec spec = plugin("other", "none", 100);
  spec.program = dir.path() / "vendor-plugin";
  Host host({plugin("ours", "none", 100), spec});
  for (const char* id : {"ours", "other"}) {
    EXPECT_TRUE(eventually([&] { return host.seen.values(id, "line.pull").size() > 50; }))
        << id << host.log();
  }
  auto arguments = [&](const char* id) {
    std::ifstream file(fmt::format("/proc/{}/cmdline", host.pid_of(id)));
    return std::string{std::istreambuf_iterator<char>(file), {}};
  };
  EXPECT_NE(arguments("ours").find("--fd"), std::string::npos);
  EXPECT_NE(arguments("other").find("--socket"), std::string::npos);
  host.supervisor().stop();
  expect_without_hole(host, "ours");
  expect_without_hole(host, "other");
}

// What a red light shows: a required sensor that is gone, and that it is back.
TEST(MisbehaveTest, ARequiredSensorThatIsMissingLightsTheRedLight) {
  sensors::PluginSpec required = plugin("must", "none", 50);
  required.required = true;
  Host host({plugin("lamp", "none", 50, "output = \"red_light\"\n"), required});
  auto light = [&](const char* state) {
    return eventually([&] {
      std::string last;
      for (const v1::Observation& o : host.seen.of("lamp")) {
        if (o.has_sensor() && o.sensor().channel() == "red_light") last = o.sensor().state();
      }
      return last == state;
    });
  };
  ASSERT_TRUE(eventually([&] { return !host.health_of("must").missing(); })) << host.log();
  std::this_thread::sleep_for(1500ms);  // Off again, should it have been on while they started.
  ASSERT_EQ(kill(host.pid_of("must"), SIGSTOP), 0);
  EXPECT_TRUE(light("on")) << host.log();
  EXPECT_TRUE(host.health_of("must").missing());
  ASSERT_EQ(kill(host.pid_of("must"), SIGCONT), 0);
  EXPECT_TRUE(light("off")) << host.log();
  EXPECT_FALSE(host.health_of("must").missing());
}

bool process_runs(int pid) {
  std::ifstream stat(fmt::format("/proc/{}/stat", pid));
  std::string id, name, state;
  return (stat >> id >> name >> state) && state != "Z";
}

// The pid a test host printed.
int plugin_of(const Program& host) {
  int pid = 0;
  eventually([&] {
    std::string text = host.output();
    size_t at = text.rfind("plugin is process ");
    if (at != std::string::npos) pid = std::atoi(text.c_str() + at + 18);
    return pid != 0 && text.find("sample ") != std::string::npos;
  });
  return pid;
}

TEST(MisbehaveTest, ADaemonThatIsKilledLeavesNoPluginAndTheNextOneTakesItsPlace) {
  TempDir dir;
  std::filesystem::create_symlink(FAIRLEAD_PLUGIN_MISBEHAVE, dir.path() / "vendor-plugin");
  std::string run = (dir.path() / "run").string();
  // With an inherited pair and with the path; one that hears no SIGTERM, so that only the broken
  // stream can end it.
  for (const std::string& program :
       {std::string(FAIRLEAD_PLUGIN_MISBEHAVE), (dir.path() / "vendor-plugin").string()}) {
    for (const char* word : {"none", "ignore_term"}) {
      Program host(FAIRLEAD_TEST_HOST, {run, program, fmt::format("misbehave = \"{}\"", word)});
      int pid = plugin_of(host);
      ASSERT_GT(pid, 0) << host.output();
      ASSERT_EQ(kill(host.pid(), SIGKILL), 0);  // Itself, not its group.
      // The next daemon at once, while the old plugin may still be dialling.
      Program next(FAIRLEAD_TEST_HOST, {run, program, ""});
      EXPECT_TRUE(eventually([&] { return !process_runs(pid); }, 5s)) << program << " " << word;
      int other = plugin_of(next);
      EXPECT_GT(other, 0) << next.output();
      EXPECT_NE(other, pid);
    }
  }
}

TEST(MisbehaveTest, ManyRandomMisbehavioursCostTheOthersNothing) {
  const char* asked = std::getenv("FAIRLEAD_MISBEHAVIOURS");
  const int64_t want = asked == nullptr ? 30 : std::atoll(asked);
  sensors::Limits limits;
  limits.backoff_first_us = 50'000;
  limits.backoff_longest_us = 200'000;
  limits.start_within_us = 3'000'000;
  limits.kill_stale_us = 300'000;
  limits.term_grace_us = 300'000;
  limits.most_readings_s = 1000;
  std::vector<sensors::PluginSpec> specs{plugin("good.a", "none", 100),
                                         plugin("good.b", "none", 50)};
  for (int i = 0; i < 5; ++i) {
    specs.push_back(plugin(fmt::format("bad.{}", i), "random", 50, fmt::format("seed = {}\n", i)));
  }
  Host host(specs, limits);
  ASSERT_TRUE(eventually([&] { return host.seen.values("good.a", "line.pull").size() > 20; }));
  int64_t first_kib = own_rss_kib();
  size_t first_entries = host.seen.size();
  auto starts = [&] {
    int64_t sum = 0;
    for (const sensors::Health& h : host.supervisor().health()) {
      if (h.id.starts_with("bad")) sum += h.starts;
    }
    return sum;
  };
  ASSERT_TRUE(eventually([&] { return starts() >= want; }, std::chrono::seconds(20 + 2 * want)))
      << starts() << host.log();
  int64_t grown_kib = own_rss_kib() - first_kib;
  int64_t ours_kib = static_cast<int64_t>(host.seen.size() - first_entries) / 2;  // 0.5 KiB each.
  EXPECT_EQ(host.health_of("good.a").starts, 1);
  EXPECT_EQ(host.health_of("good.b").starts, 1);
  host.supervisor().stop();
  expect_without_hole(host, "good.a");
  expect_without_hole(host, "good.b");
  EXPECT_LT(grown_kib - ours_kib, 48 * 1024) << "beyond what this test itself keeps";
  std::map<std::string, int> words;
  std::istringstream log(host.log());
  for (std::string line; std::getline(log, line);) {
    size_t at = line.find("misbehaves: ");
    if (at != std::string::npos && line.find("bad") != std::string::npos)
      ++words[line.substr(at + 12)];
    at = line.find("started as process ");
    if (at == std::string::npos) continue;
    int pid = std::atoi(line.c_str() + at + 19);
    EXPECT_FALSE(group_runs(pid)) << "left behind: " << line;
  }
  std::string said;
  for (const auto& [word, count] : words) said += fmt::format(" {} {},", word, count);
  fmt::print("{} starts, {} kinds:{} good samples {} and {}, daemon grew {} KiB\n", starts(),
             words.size(), said, host.seen.values("good.a", "line.pull").size(),
             host.seen.values("good.b", "line.pull").size(), grown_kib);
  EXPECT_GE(words.size(), 8U);
}

}  // namespace
}  // namespace fairlead::test
