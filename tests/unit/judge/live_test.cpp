// Judging a job that is still running: revisions continue, warnings come before the harm.
#include <gtest/gtest.h>

#include "daemon/base/time_text.h"
#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

constexpr const char* kOrder =
    "comes_first { first: \"clamp.negative.off\" then: \"clamp.positive.off\" } }";

v1::Observation clamp(double second, uint32_t seq, const char* lead, bool on) {
  return line_at(second, "operator", seq,
                 std::string(R"("clamp":{"lead":")") + lead + R"(","on":)" +
                     (on ? "true" : "false") + R"(,"at":"VEHICLE","point":"TERMINALS"})");
}

std::map<std::string, Finding> by_key(const std::vector<Finding>& findings) {
  std::map<std::string, Finding> map;
  for (const Finding& finding : findings) map[finding_key(finding)] = finding;
  return map;
}

TEST(Revisions, RiseOnlyWhenAByteChanged) {
  const Rulebook rules = rulebook_of("rule { " + rule_head("order") + kOrder);
  Lines lines{opened_line(), clamp(10, 2, "POSITIVE", true), clamp(20, 3, "NEGATIVE", true),
              clamp(60, 5, "POSITIVE", false), closed_line(90, 6)};
  // The line with negative off, seq 4, is late: not known, so not judged against anybody.
  const auto first = judge_job(rules, lines);
  EXPECT_EQ(first.at(0).verdict, Verdict::kUnproven);
  EXPECT_EQ(first.at(0).reason, Reason::kNoData);
  EXPECT_FALSE(first.at(0).settled);
  EXPECT_EQ(first.at(0).revision, 1u);
  EXPECT_EQ(finding_key(first.at(0)), "test/order");

  const auto again = judge_job(rules, lines, {.now_us = {}, .previous = by_key(first), .job = ""});
  EXPECT_EQ(again.at(0).revision, 1u);
  EXPECT_EQ(finding_to_json(again.at(0)), finding_to_json(first.at(0)));

  lines.push_back(clamp(40, 4, "NEGATIVE", false));
  const auto late = judge_job(rules, lines, {.now_us = {}, .previous = by_key(again), .job = ""});
  EXPECT_EQ(late.at(0).verdict, Verdict::kMet);
  EXPECT_EQ(late.at(0).margin_best, "20");
  EXPECT_TRUE(late.at(0).settled);
  EXPECT_EQ(late.at(0).revision, 2u);
  const auto last = judge_job(rules, lines, {.now_us = {}, .previous = by_key(late), .job = ""});
  EXPECT_EQ(last.at(0).revision, 2u);
}

Rulebook speed_rules(const std::string& warn_at) {
  return rulebook_of(
      "rule { " + rule_head("speed") + warn_at +
      "limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" under: \"5 km/h\" "
      "sustained: \"1 s\" longest_gap: \"3 s\" } }");
}

// Rolling from 10 s on, still rolling: 0.9 m/s, 1.2 m/s from 20 s, 2.5 m/s from 30 s.
Lines speeding_up() {
  Lines lines{opened_line(), line_at(10, "operator", 2, R"("vehicleMode":{"mode":"ROLLING"})")};
  for (int second = 1; second < 40; ++second) {
    const double mps = second < 20 ? 0.9 : second < 30 ? 1.2 : 2.5;
    lines.push_back(speed_line(second, static_cast<uint32_t>(second), mps, 0.1));
  }
  return lines;
}

TEST(LiveWarnings, ComeAtTheShareOfTheLimit) {
  const Rulebook rules = speed_rules("warn_at: \"80 %\" ");  // 80 % of 5 km/h = 1.111 m/s
  const Lines lines = speeding_up();
  const int64_t start_us = *parse_time_us("2026-03-02T10:00:00Z");
  const auto at = [&](int64_t second) {
    return live_warnings(rules, lines, start_us + second * 1'000'000);
  };
  EXPECT_TRUE(at(5).empty());   // Not rolling yet.
  EXPECT_TRUE(at(18).empty());  // 65 %.
  const auto near = at(25);     // 86 %: near, inside.
  ASSERT_EQ(near.size(), 1u);
  EXPECT_EQ(near[0].rule, "speed");
  EXPECT_FALSE(near[0].deviated);
  EXPECT_EQ(near[0].words, "speed: 4.32 km/h, limit under 5 km/h");
  const auto over = at(36);
  ASSERT_EQ(over.size(), 1u);
  EXPECT_TRUE(over[0].deviated);
  EXPECT_EQ(over[0].words, "speed: 9 km/h, limit under 5 km/h");
  EXPECT_GE(over[0].at_us, start_us + 30'000'000);
}

TEST(LiveWarnings, ALeastValueWarnsFromAbove) {
  const Rulebook rules = rulebook_of(
      "rule { " + rule_head("volts") +
      " warn_at: \"80 %\" limit_in_phase { phase: \"job\" quantity: \"clamp.volts\" at_least: \"10 "
      "V\" sustained: \"1 s\" } }");
  const auto warned = [&](double volts) {
    Lines lines{opened_line()};
    for (uint32_t i = 1; i < 20; ++i) {
      lines.push_back(
          line_at(i, "clamp", i,
                  R"("sample":{"signal":"clamp.volts","value":)" + std::to_string(volts) + "}"));
    }
    return live_warnings(rules, lines, *parse_time_us("2026-03-02T10:00:19Z")).size();
  };
  EXPECT_EQ(warned(13.0), 0u);  // 10 V is 77 % of 13 V.
  EXPECT_EQ(warned(12.0), 1u);  // 83 %.
}

TEST(LiveWarnings, WithoutWarnAtOnlyTheDeviationIsSaid) {
  const Rulebook rules = speed_rules("");
  const int64_t start_us = *parse_time_us("2026-03-02T10:00:00Z");
  EXPECT_TRUE(live_warnings(rules, speeding_up(), start_us + 25'000'000).empty());
  EXPECT_EQ(live_warnings(rules, speeding_up(), start_us + 36'000'000).size(), 1u);
}

}  // namespace
}  // namespace fairlead::judge
