// The order, number and batches in which lines arrive never matter: the same bytes come out.
#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

std::string bytes_of(const std::vector<Finding>& findings) {
  std::string bytes;
  for (const Finding& finding : findings) bytes += finding_to_json(finding) + "\n";
  return bytes;
}

// A bit of everything: order, speed, tiedowns, with two lines at one instant and a lost one.
Lines mixed_job() {
  Lines lines{
      opened_line(),
      line_at(5, "operator", 2, R"("rigging":{"on":true,"point":"front_eye","gear":["soft"]})"),
      line_at(8, "operator", 3, R"("line":{"state":"TAUT"})"),
      line_at(10, "operator", 4, R"("vehicleMode":{"mode":"ROLLING"})"),
      line_at(20, "operator", 5, R"("vehicleMode":{"mode":"PARKED"})"),
      line_at(26, "operator", 6,
              R"("tiedown":{"on":true,"gear":"s","wheel":"LF","path":"DIRECT"})"),
      line_at(26, "desk", 1, R"("note":{"text":"same instant"})"),
      line_at(30, "gps.truck", 1, R"("truckMotion":{"moving":true})"),
      line_at(50, "gps.truck", 2, R"("truckMotion":{"moving":false})"),
      closed_line(60, 8)};
  for (int second = 1; second < 25; ++second)
    lines.push_back(speed_line(second, static_cast<uint32_t>(second), 1.0 + 0.05 * second, 0.1));
  return lines;
}

Rulebook mixed_rules() {
  return rulebook_of(
      "rule { " + rule_head("taut") +
      "comes_first { first: \"line.taut.on\" then: \"mode.rolling.on\" } }\n"
      "rule { " +
      rule_head("speed") +
      "limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" under: \"5 km/h\" "
      "sustained: \"1 s\" longest_gap: \"3 s\" } }\n"
      "rule { " +
      rule_head("strength") +
      "enough_strength { phase: \"driving\" of: \"tiedowns\" times_mass: \"0.5\" "
      "least_count: 2 } }\n");
}

TEST(OrderOfLines, AnyPermutationGivesTheSameBytes) {
  const Rulebook rules = mixed_rules();
  Lines lines = mixed_job();
  const std::string expected = bytes_of(judge_job(rules, lines));
  EXPECT_EQ(std::count(expected.begin(), expected.end(), '\n'), 4);
  std::mt19937_64 random(20260302);
  for (int round = 0; round < 50; ++round) {
    std::shuffle(lines.begin(), lines.end(), random);
    ASSERT_EQ(bytes_of(judge_job(rules, lines)), expected) << "round " << round;
  }
  std::reverse(lines.begin(), lines.end());
  EXPECT_EQ(bytes_of(judge_job(rules, lines)), expected);
}

TEST(OrderOfLines, LinesTwiceChangeNothing) {
  const Rulebook rules = mixed_rules();
  Lines lines = mixed_job();
  const std::string expected = bytes_of(judge_job(rules, lines));
  const Lines once = lines;
  lines.insert(lines.end(), once.begin(), once.end());
  EXPECT_EQ(bytes_of(judge_job(rules, lines)), expected);
}

TEST(OrderOfLines, AnotherContentIsSeen) {
  const Rulebook rules = mixed_rules();
  Lines lines = mixed_job();
  const std::string expected = bytes_of(judge_job(rules, lines));
  lines.push_back(speed_line(9.5, 25, 1.0, 0.1));
  EXPECT_NE(bytes_of(judge_job(rules, lines)), expected);
}

}  // namespace
}  // namespace fairlead::judge
