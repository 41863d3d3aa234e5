// A job judged while it runs. Judging all of its lines at once is the definition (judging.md,
// "late data"); the live way must give the same bytes at every line, in whatever order lines come,
// and must not fall back on the definition where they come in order.
#include "daemon/judge/live_job.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "daemon/base/time_text.h"
#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

using Random = std::mt19937_64;

std::string bytes_of(const std::vector<Finding>& findings) {
  std::string bytes;
  for (const Finding& finding : findings) bytes += finding_to_json(finding) + "\n";
  return bytes;
}

std::string words_of(const std::vector<LiveWarning>& warnings) {
  std::string text;
  for (const LiveWarning& one : warnings)
    text += fmt::format("{} {} {} {}\n", one.rule, one.words, one.at_us, one.deviated);
  return text;
}

const Rulebook& all_rules() {
  static const Rulebook kRules = [] {
    auto procedures = files_in("daemon/judge/procedures");
    // Forms and quantities that no shipped rule joins, on readings and without `sustained`.
    procedures.push_back({"more.textproto",
                          "id: \"more\" version: \"1\" title: \"more\"\n"
                          "phase { id: \"pulling\" opens: \"line.pulling.on\" closes: "
                          "\"line.pulling.off\" }\n"
                          "phase { id: \"taut\" opens: \"line.taut.on\" closes: \"line.taut.off\" "
                          "longest: \"10 min\" }\n"
                          "rule { " +
                              rule_head("each") +
                              "limit_in_phase { phase: \"pulling\" quantity: \"line.pull\" under: "
                              "\"2.9 kN\" } }\n"
                              "rule { " +
                              rule_head("by_speed") +
                              "limit_in_phase { phase: \"taut\" quantity: \"vehicle.speed\" under: "
                              "\"2 km/h\" sustained: \"2 s\" longest_gap: \"4 s\" } }\n"
                              "rule { " +
                              rule_head("held") +
                              "never_together { state: \"line.holding\" with: \"truck.moving\" "
                              "tolerate: \"2 s\" } }\n"
                              "rule { " +
                              rule_head("way") +
                              "total_in_phase { phase: \"job\" quantity: \"truck.driven\" at_most: "
                              "\"200 m\" per: VISIT } }\n"});
    auto loaded = Rulebook::load(procedures, files_in("clients/sim/fleet"));
    EXPECT_TRUE(loaded) << (loaded ? "" : loaded.error().message);
    return *loaded;
  }();
  return kRules;
}

/// Lines of a job of two minutes, in order of their times; what instruments there are varies.
class RandomJob {
 public:
  explicit RandomJob(uint64_t seed) : random_(seed) {}

  Lines make(bool with_trouble) {
    say(0, "operator",
        R"("opened":{"procedures":["load"],"vehicle":"wrenlet","truck":"OW-02","operator":"card-1"})");
    words();
    measure("line", "line.pull", 250,
            [&](double t) { return fmod_of(t, 40) < 24 ? 2'500 + t : 60; });
    if (chance(2)) measure("line", "line.out", 500, [&](double t) { return 30 - 0.1 * t; });
    measure("clamp", "clamp.volts", 700, [&](double t) { return t > 50 && t < 90 ? 12.4 : 0.2; });
    if (chance(3)) measure("clamp", "clamp.amps", 700, [&](double t) { return t > 60 ? 25.0 : 0; });
    if (chance(2)) measure("deck", "deck.tilt", 900, [&](double t) { return t < 70 ? 8.0 : 2.0; });
    if (chance(3)) fixes("gps.tag");
    if (chance(2)) fixes("gps.truck");
    if (with_trouble) trouble();
    if (chance(2)) say(125, "operator", R"("closed":{"outcome":"SIGNED"})");
    if (chance(6)) say(127, "operator", R"("reopened":{})");
    std::stable_sort(lines_.begin(), lines_.end(),
                     [](const auto& a, const auto& b) { return a.time() < b.time(); });
    std::map<std::string, uint32_t> seqs;
    for (v1::Observation& line : lines_) {
      line.set_seq(++seqs[line.source()]);
      if (line.source() == "clamp") line.set_clock("clamps");
    }
    return std::move(lines_);
  }

  bool chance(int of) { return random_() % static_cast<uint64_t>(of) == 0; }
  Random& random() { return random_; }

 private:
  static double fmod_of(double a, double b) { return a - b * static_cast<int>(a / b); }
  void say(double second, const std::string& source, const std::string& kind) {
    lines_.push_back(line_at(second, source, 1, kind));
  }
  double moment(double most = 120) { return static_cast<double>(random_() % 1000) / 1000 * most; }
  void words() {
    constexpr const char* kWords[] = {
        R"("identified":{"card":"c","how":"PLATE"})",
        R"("rigging":{"on":true,"point":"front_eye","gear":["soft-1"],"legsAngleDeg":40})",
        R"("rigging":{"on":false,"point":"front_eye","gear":["soft-1"]})",
        R"("line":{"state":"TAUT"})",
        R"("line":{"state":"SLACK"})",
        R"("vehicleMode":{"mode":"ROLLING"})",
        R"("vehicleMode":{"mode":"PARKED"})",
        R"("wheels":{"which":"ALL","on":"DECK"})",
        R"("tiedown":{"on":true,"gear":"strap-1","wheel":"LF","path":"DIRECT"})",
        R"("truckMotion":{"moving":true})",
        R"("truckMotion":{"moving":false})",
        R"("clamp":{"lead":"POSITIVE","on":true,"at":"VEHICLE","point":"TERMINALS"})",
        R"("clamp":{"lead":"NEGATIVE","on":true,"at":"VEHICLE","point":"TERMINALS"})",
        R"("clamp":{"lead":"NEGATIVE","on":false,"at":"VEHICLE","point":"TERMINALS"})",
        R"("found":{"rolls":"YES","power":"NONE","keys":true,"fluids":false,"airbags":false,"movedByOthersBefore":false,"place":"ROADSIDE","surface":"ICE","lockedWheels":[],"flatTyres":[]})",
        R"("warning":{"rule":"speed","acknowledged":true})"};
    say(3, "operator", kWords[1]);
    for (int i = 0; i < 14; ++i)
      say(moment(), chance(4) ? "desk" : "operator", kWords[random_() % std::size(kWords)]);
  }
  template <typename Value>
  void measure(const char* source, const char* signal, int64_t every_ms, Value value) {
    for (int64_t ms = 500; ms < 120'000; ms += every_ms) {
      if (chance(60)) ms += static_cast<int64_t>(random_() % 9'000);  // A silence.
      const double t = static_cast<double>(ms) / 1000;
      say(t, source,
          fmt::format(R"("sample":{{"signal":"{}","value":{:.3f}}})", signal,
                      value(t) + static_cast<double>(random_() % 100) / 1000));
    }
  }
  void fixes(const char* source) {
    for (int second = 1; second < 120; ++second) {
      const double east = second > 40 && second < 60 ? (second - 40) * 5e-6 : 0;
      say(second + 0.4, source,
          fmt::format(R"("fix":{{"latDeg":40.0,"lonDeg":{:.7f},"speedMps":{:.2f},"courseDeg":90,)"
                      R"("hSdM":1.5,"mode":{}}})",
                      10 + east, static_cast<double>(random_() % 60) / 100, chance(30) ? 1 : 3));
    }
  }
  void trouble() {
    constexpr const char* kTrouble[] = {
        R"("gap":{"channel":"line","cause":"unplugged"})",
        R"("gap":{"channel":"line.pull","cause":"no answer"})",
        R"("alive":{})",
    };
    for (int i = 0; i < 3; ++i)
      if (chance(2)) say(moment(), "line", kTrouble[random_() % std::size(kTrouble)]);
    if (chance(3))
      say(moment(), "operator", R"("clockOffset":{"clock":"clamps","offsetMs":300,"sdMs":50})");
    if (chance(3))
      say(moment(), "operator",
          fmt::format(R"("undo":{{"source":"operator","seq":{}}})", 2 + random_() % 8));
  }

  Random random_;
  Lines lines_;
};

/// Holds the live job against the definition after about every `step` lines.
void expect_same(const Lines& lines, Random& random, size_t step, const std::string& what) {
  LiveJob live(all_rules());
  size_t next = 0;
  for (size_t i = 0; i < lines.size(); ++i) {
    live.add(lines[i]);
    if (i < next && i + 1 < lines.size()) continue;
    next = i + 1 + random() % (2 * step);
    const std::span<const v1::Observation> so_far(lines.data(), i + 1);
    const Judgement judged = live.judge();
    ASSERT_EQ(bytes_of(judged.findings), bytes_of(judge_job(all_rules(), so_far)))
        << what << ", line " << i + 1;
    ASSERT_EQ(words_of(judged.warnings),
              words_of(live_warnings(all_rules(), so_far, live.newest_us())))
        << what << ", line " << i + 1;
  }
}

TEST(LiveJob, SaysAtEveryLineWhatItsLinesSay) {
  for (uint64_t seed = 1; seed <= 8; ++seed) {
    RandomJob random(seed);
    expect_same(random.make(false), random.random(), 40, fmt::format("seed {}", seed));
  }
}

TEST(LiveJob, WithGapsOffsetsAndUndoneLines) {
  for (uint64_t seed = 101; seed <= 108; ++seed) {
    RandomJob random(seed);
    expect_same(random.make(true), random.random(), 40, fmt::format("seed {}", seed));
  }
}

// Late by up to half a minute, lost, twice, twice with other content.
TEST(LiveJob, WhateverTheLinesOnTheWay) {
  for (uint64_t seed = 201; seed <= 210; ++seed) {
    RandomJob random(seed);
    Lines lines = random.make(random.chance(2));
    const size_t most = random.chance(2) ? 8 : 400;
    for (size_t i = 0; i + 1 < lines.size(); ++i) {
      if (random.chance(8))
        std::swap(lines[i], lines[std::min(lines.size() - 1, i + random.random()() % most)]);
    }
    for (int i = 0; i < 3; ++i) {
      const size_t at = 1 + random.random()() % (lines.size() - 2);
      if (random.chance(3)) lines.erase(lines.begin() + static_cast<ptrdiff_t>(at));
      if (random.chance(3)) lines.push_back(lines[at]);
      if (random.chance(4)) {
        lines.push_back(lines[at]);
        lines.back().mutable_note()->set_text("something else");
      }
    }
    expect_same(lines, random.random(), 40, fmt::format("seed {}", seed));
  }
}

TEST(LiveJob, InAnyOrderAtAll) {
  for (uint64_t seed = 301; seed <= 303; ++seed) {
    RandomJob random(seed);
    Lines lines = random.make(true);
    std::shuffle(lines.begin(), lines.end(), random.random());
    expect_same(lines, random.random(), 80, fmt::format("seed {}", seed));
  }
}

// The shortcut is taken: once every source has spoken, nothing in order is read anew, though lines
// of other sources come up to two seconds late.
TEST(LiveJob, LinesInOrderAreReadOnce) {
  RandomJob random(7);
  Lines lines = random.make(false);
  std::erase_if(lines, [](const auto& line) {
    return (line.source() == "operator" || line.source() == "desk") && !line.has_opened();
  });
  std::map<std::string, uint32_t> seqs;
  for (v1::Observation& line : lines) line.set_seq(++seqs[line.source()]);
  const auto arrival_us = [](const v1::Observation& line) {
    return parse_time_us(line.time()).value_or(0) + (line.source() == "clamp" ? 2'000'000 : 0);
  };
  std::ranges::stable_sort(lines, {}, arrival_us);
  LiveJob live(all_rules());
  size_t judged_first = 0;
  for (size_t i = 0; i < lines.size(); ++i) {
    live.add(lines[i]);
    if (i % 7 == 0) (void)live.judge();
    if (i < lines.size() / 4) judged_first = live.readings();
  }
  EXPECT_EQ(live.readings(), judged_first);
  EXPECT_GT(lines.size(), 400u);
  EXPECT_EQ(bytes_of(live.judge().findings), bytes_of(judge_job(all_rules(), lines)));
}

// What makes the job be read anew, each by itself.
TEST(LiveJob, WhatReachesBackIsReadAnew) {
  const auto readings_with = [](const v1::Observation& last) {
    LiveJob live(all_rules());
    for (const v1::Observation& line :
         {opened_line(), line_at(5, "line", 1, R"("sample":{"signal":"line.pull","value":100})"),
          line_at(6, "line", 2, R"("sample":{"signal":"line.pull","value":100})")})
      live.add(line);
    (void)live.judge();
    live.add(last);
    (void)live.judge();
    return live.readings();
  };
  const std::string pull = R"("sample":{"signal":"line.pull","value":100})";
  EXPECT_EQ(readings_with(line_at(7, "line", 3, pull)), 1u);
  EXPECT_EQ(readings_with(line_at(5.5, "line", 3, pull)), 1u);  // A step back of its clock.
  EXPECT_EQ(readings_with(line_at(7, "operator", 2, R"("arrived":{})")), 1u);
  EXPECT_EQ(readings_with(line_at(7, "line", 4, pull)), 2u);   // One is lost.
  EXPECT_EQ(readings_with(line_at(6, "line", 2, pull)), 2u);   // The same once more.
  EXPECT_EQ(readings_with(line_at(7, "clamp", 1, pull)), 2u);  // A source nobody has heard.
  EXPECT_EQ(readings_with(line_at(7, "line", 3, R"("gap":{"channel":"line","cause":"x"})")), 2u);
  EXPECT_EQ(readings_with(line_at(7, "operator", 2, R"("undo":{"source":"line","seq":1})")), 2u);
  EXPECT_EQ(readings_with(closed_line(7, 2)), 2u);
}

}  // namespace
}  // namespace fairlead::judge
