// comes_first: what a lost line may have been decides nothing, whichever way it would decide.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

v1::Observation clamp(double second, uint32_t seq, const char* lead, bool on) {
  return line_at(second, "operator", seq,
                 fmt::format(R"("clamp":{{"lead":"{}","on":{},"at":"VEHICLE",)"
                             R"("point":"TERMINALS"}})",
                             lead, on));
}

// Negative off before positive off, with the second line as `negative_on` or lost.
Finding judged(bool lost) {
  Lines lines{opened_line(),
              clamp(6, 2, "POSITIVE", true),
              clamp(53, 4, "NEGATIVE", false),
              clamp(71, 5, "POSITIVE", false),
              clamp(98, 6, "NEGATIVE", true),
              closed_line(200, 7)};
  if (!lost) lines.push_back(clamp(30, 3, "NEGATIVE", true));
  const Rulebook rules =
      rulebook_of("rule { " + rule_head("order") +
                  "comes_first { first: \"clamp.negative.off\" then: \"clamp.positive.off\" } }");
  return judge_job(rules, lines).at(0);
}

TEST(ComesFirst, InForceByASeenEdge) {
  EXPECT_EQ(judged(false).verdict, Verdict::kMet);
  EXPECT_EQ(judged(false).margin_best, "18");
  EXPECT_TRUE(judged(false).settled);
}

TEST(ComesFirst, WhatWasNotOnYetCannotGoOffFirst) {
  // The positive jaw slips and is set again before the negative one is on at all.
  const Rulebook rules =
      rulebook_of("rule { " + rule_head("order") +
                  "comes_first { first: \"clamp.negative.off\" then: \"clamp.positive.off\" } }");
  const Lines lines{opened_line(),
                    clamp(6, 2, "POSITIVE", true),
                    clamp(16, 3, "POSITIVE", false),
                    clamp(26, 4, "POSITIVE", true),
                    clamp(36, 5, "NEGATIVE", true),
                    clamp(60, 6, "NEGATIVE", false),
                    clamp(71, 7, "POSITIVE", false),
                    closed_line(200, 8)};
  const Finding finding = judge_job(rules, lines).at(0);
  EXPECT_EQ(finding.verdict, Verdict::kMet);
  EXPECT_EQ(finding.margin_best, "11");
}

TEST(ComesFirst, AnEdgeThatAGapMayHideIsNotAbsent) {
  // The lost line may have put the negative clamp on, or be about anything else.
  EXPECT_EQ(judged(true).verdict, Verdict::kUnproven);
  EXPECT_EQ(judged(true).reason, Reason::kNoData);
  EXPECT_FALSE(judged(true).settled);
}

TEST(ComesFirst, WhoSaysOneClampsStateMayHaveSaidTheOthers) {
  const Rulebook rules =
      rulebook_of("rule { " + rule_head("order") +
                  "comes_first { first: \"clamp.negative.off\" then: \"clamp.positive.off\" } }");
  const auto jaw = [](double second, uint32_t seq, bool on) {
    return line_at(second, "clamp", seq,
                   fmt::format(R"("clamp":{{"lead":"POSITIVE","on":{},"at":"VEHICLE",)"
                               R"("point":"TERMINALS"}})",
                               on));
  };
  const Finding finding = judge_job(rules, Lines{opened_line(), jaw(6, 1, true), jaw(66, 3, false),
                                                 jaw(86, 4, true), closed_line(200, 2)})
                              .at(0);
  EXPECT_EQ(finding.applies, Applies::kUnknown);  // Its lost line may have put the negative on.
  EXPECT_EQ(finding.reason, Reason::kNoData);
}

TEST(ComesFirst, WhatWasSoAtTheOpeningIsInForce) {
  const Rulebook rules =
      rulebook_of("rule { " + rule_head("order") +
                  "comes_first { first: \"wheels.on_ground.on\" then: \"clamp.positive.on\" } }");
  const Finding finding =
      judge_job(rules, Lines{opened_line(), clamp(6, 2, "POSITIVE", true), closed_line(200, 3)})
          .at(0);
  EXPECT_EQ(finding.verdict, Verdict::kMet);
  EXPECT_EQ(finding.margin_best, "6");
}

}  // namespace
}  // namespace fairlead::judge
