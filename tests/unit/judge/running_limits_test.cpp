// limit_in_phase while the job runs: what is kept of a stay from line to line says what all lines
// judged at once say, also where lines come late, within the time that costs nothing and after it.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "daemon/judge/live_job.h"
#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

std::string limit_rule(const std::string& id, const std::string& limit) {
  return "rule { " + rule_head(id) + "limit_in_phase { phase: \"set\" " + limit + " } }\n";
}

Rulebook limits(const std::string& rules) {
  const std::string text =
      "id: \"test\" version: \"1.0\" title: \"test\"\n"
      "phase { id: \"set\" opens: \"scene.set.on\" closes: \"scene.set.off\" longest: \"2 min\" "
      "}\n" +
      rules;
  const std::string dates = R"(in_service: "2025-01-10" inspect_by: "2027-01-10")";
  const std::string gear = R"(gear { id: "soft" kind: SOFT_SHACKLE wll: "700 kg" )" + dates +
                           " }\n" + R"(gear { id: "weak" kind: SOFT_SHACKLE wll: "500 kg" )" +
                           dates + " }\n";
  auto loaded = Rulebook::load({{"test.textproto", text}}, {{"gear.textproto", gear}});
  EXPECT_TRUE(loaded) << (loaded ? "" : loaded.error().message);
  return *loaded;
}

v1::Observation reading(double second, uint32_t seq, const char* source, const char* signal,
                        double value) {
  return line_at(second, source, seq,
                 fmt::format(R"("sample":{{"signal":"{}","value":{}}})", signal, value));
}

// A set scene from 5 s to 70 s, the line pulled, gear on from 12 s and weaker gear from 41 s.
Lines long_pull() {
  Lines lines{opened_line()};
  for (int i = 2; i < 160; ++i) {
    const double second = i / 2.0, wave = std::sin(i * 0.7);
    const auto seq = static_cast<uint32_t>(i - 1);
    lines.push_back(reading(second, seq, "clamp", "clamp.volts", 11.6 + wave * 0.5));
    lines.push_back(reading(second + 0.1, seq, "line", "line.pull", 4600 + wave * 900));
  }
  const auto desk = [&](double second, uint32_t seq, const std::string& kind) {
    lines.push_back(line_at(second, "desk", seq, kind));
  };
  const auto rigged = [](const char* gear) {
    return fmt::format(R"("rigging":{{"on":true,"point":"front_eye","gear":["{}"]}})", gear);
  };
  desk(5, 1, R"("scene":{"set":true})");
  desk(12, 2, rigged("soft"));
  desk(41, 3, rigged("weak"));
  desk(70, 4, R"("scene":{"set":false})");
  return lines;
}

// Every so many lines of the source one comes so many seconds later.
void delay(Lines& lines, const std::string& source, uint32_t every, int seconds) {
  std::vector<std::pair<int64_t, size_t>> order;
  for (size_t i = 0; i < lines.size(); ++i) {
    const v1::Observation& line = lines[i];
    const int minute = std::stoi(line.time().substr(14, 2)),
              second = std::stoi(line.time().substr(17, 2));
    const bool late = line.source() == source && line.seq() % every == 0;
    order.push_back({minute * 60 + second + (late ? seconds : 0), i});
  }
  std::stable_sort(order.begin(), order.end());
  Lines sorted;
  for (const auto& [second, i] : order) sorted.push_back(lines[i]);
  lines = std::move(sorted);
}

void expect_same_while_running(const Rulebook& rules, const Lines& lines, const std::string& what) {
  LiveJob live(rules);
  for (size_t i = 0; i < lines.size(); ++i) {
    live.add(lines[i]);
    if (i % 3 != 0 && i + 1 < lines.size()) continue;
    const auto found = live.judge().findings;
    const auto all = judge_job(rules, std::span(lines).first(i + 1));
    ASSERT_EQ(found.size(), all.size());
    for (size_t k = 0; k < all.size(); ++k)
      ASSERT_EQ(finding_to_json(found[k]), finding_to_json(all[k])) << what << ", line " << i;
  }
}

TEST(RunningLimits, SayWhatAllLinesSay) {
  const std::string volts = "quantity: \"clamp.volts\" ", pull = "quantity: \"line.pull\" ";
  const Rulebook rules = limits(
      limit_rule("lasting", volts + "at_least: \"11 V\" sustained: \"2 s\" longest_gap: \"2 s\"") +
      limit_rule("shorter", volts + "at_least: \"11 V\" sustained: \"1 s\" longest_gap: \"2 s\"") +
      limit_rule("other", volts + "at_least: \"11.5 V\" sustained: \"2 s\" longest_gap: \"2 s\"") +
      limit_rule("most", volts + "at_most: \"12 V\" sustained: \"2 s\" longest_gap: \"5 s\"") +
      limit_rule("holds", volts + "at_most: \"12 V\" sustained: \"2 s\"") +
      limit_rule("rated",
                 pull + "at_most: \"line.rating\" sustained: \"2 s\" longest_gap: \"5 s\"") +
      limit_rule("under", pull + "under: \"line.rating\" sustained: \"2 s\" longest_gap: \"5 s\""));
  for (const auto& [source, every, seconds] : {std::tuple{"clamp", 3u, 4},
                                               {"clamp", 11u, 25},
                                               {"line", 5u, 14},
                                               {"desk", 3u, 30},
                                               {"desk", 1u, 20}}) {
    Lines lines = long_pull();
    delay(lines, source, every, seconds);
    expect_same_while_running(rules, lines,
                              fmt::format("{} every {} late by {} s", source, every, seconds));
  }
}

TEST(RunningLimits, RestsStillToComeTellOfTheTagsNoise) {
  const Rulebook rules = limits(limit_rule(
      "speed",
      "quantity: \"vehicle.speed\" at_most: \"0.6 m/s\" sustained: \"2 s\" longest_gap: \"3 s\""));
  Lines lines{opened_line(), line_at(1, "gps.truck", 1, R"("truckMotion":{"moving":false})"),
              line_at(5, "desk", 1, R"("scene":{"set":true})")};
  for (int i = 2; i < 90; ++i) {
    const double mps = 0.1 + 0.004 * i + 0.05 * std::sin(i * 0.9);
    lines.push_back(speed_line(i, static_cast<uint32_t>(i), mps, 0.02));
    if (i == 60) lines.push_back(line_at(60.5, "desk", 2, R"("scene":{"set":false})"));
  }
  expect_same_while_running(rules, lines, "a tag at rest");
}

TEST(RunningLimits, ReadingsStillToComeTellOfTheTagsWay) {
  const Rulebook rules = limits(limit_rule(
      "speed",
      "quantity: \"vehicle.speed\" at_most: \"2 m/s\" sustained: \"2 s\" longest_gap: \"3 s\""));
  Lines lines{opened_line(), line_at(5, "desk", 1, R"("scene":{"set":true})")};
  for (int i = 2; i < 80; ++i) {
    const auto seq = static_cast<uint32_t>(i);
    lines.push_back(reading(i + 0.5, seq, "clamp", "clamp.volts", 12));
    v1::Observation fix = speed_line(i, seq, 1.5 + 0.4 * std::sin(i * 0.9), 0.05);
    fix.mutable_fix()->set_course_deg(90 + 80 * std::sin(i * 0.35));
    lines.push_back(fix);
  }
  for (const int late : {0, 4, 9}) {
    Lines delayed = lines;
    delay(delayed, "gps.tag", 1, late);
    expect_same_while_running(rules, delayed, fmt::format("a tag late by {} s", late));
  }
  // One late between others that came in time.
  for (const auto& [every, late] : {std::pair{3u, 2}, {5u, 4}, {7u, 9}, {11u, 25}}) {
    Lines delayed = lines;
    delay(delayed, "gps.tag", every, late);
    expect_same_while_running(rules, delayed,
                              fmt::format("a tag, every {} late by {} s", every, late));
  }
}

}  // namespace
}  // namespace fairlead::judge
