// What stands though something may have hidden: a phase that may have ended sooner, a first that
// may have come sooner, one case of several that stays open. By a microsecond where one decides.
#include <gtest/gtest.h>

#include "tests/unit/judge/word_lines.h"

namespace fairlead::judge {
namespace {

const std::string kRun =
    "phase { id: \"run\" opens: \"scene.set.on\" closes: \"screen.awake.on\" longest: \"1 h\" }\n";

// In 'run' from 10 to 30 s, which the line lost between 20 and 28 s may have ended sooner.
Said run_with(const Said& more) {
  Said words{{5, "panel", screen(false)},  {10, "desk", scene(true)},
             {20, "panel", kHere},         {21, "panel", kLost},
             {28, "panel", screen(false)}, {30, "panel", screen(true)}};
  words.insert(words.end(), more.begin(), more.end());
  return words;
}

std::string in_run(const std::string& form, const Said& more) {
  return told(judged_form(form, lines_of(run_with(more)), kSet + kRun));
}

Said driven(double before, double after = -1) {
  Said words;
  for (int i = 5; i < 40; ++i)
    words.push_back({i + 0.0, "gps.truck", speed(i < 24 || after < 0 ? before : after)});
  return words;
}

// 3 m/s for 20 s, of which 10 s are sure.
TEST(MayHaveEnded, AWayIsNoLongerForIt) {
  const auto total = [&](const std::string& bound) {
    return in_run(
        "total_in_phase { phase: \"run\" quantity: \"truck.driven\" per: JOB " + bound + " }",
        driven(3));
  };
  EXPECT_EQ(total("at_most: \"60 m\""), "met 0 0 30 m");
  EXPECT_EQ(total("at_most: \"59.999 m\""), "unproven(no_data) -0.001 -0.001 29.999 m");
  EXPECT_EQ(total("under: \"60.001 m\""), "met 0.001 0.001 30.001 m");
  EXPECT_EQ(total("under: \"60 m\""), "unproven(no_data) 0 0 30 m");
  EXPECT_EQ(total("at_most: \"30 m\""), "unproven(no_data) -30 -30 0 m");
  EXPECT_EQ(total("at_most: \"29.999 m\""), "deviated -30.001 -30.001 -0.001 m");
  EXPECT_EQ(total("under: \"30 m\""), "deviated -30 -30 0 m");
}

TEST(MayHaveEnded, AReadingInsideAccusesNobodyEitherWay) {
  const auto limit = [&](const std::string& bound, double before, double after) {
    return in_run("limit_in_phase { phase: \"run\" quantity: \"truck.speed\" " + bound +
                      " longest_gap: \"3 s\" }",
                  driven(before, after));
  };
  EXPECT_EQ(limit("at_most: \"3 m/s\"", 3, 3), "met 0 0 0 m/s");
  EXPECT_EQ(limit("at_most: \"3 m/s\"", 2, 3), "met 0 0 1 m/s");
  EXPECT_EQ(limit("at_most: \"2.999 m/s\"", 2, 3), "unproven(no_data) -0.001 -0.001 0.999 m/s");
  EXPECT_EQ(limit("at_most: \"2.999 m/s\"", 3, 3), "deviated -0.001 -0.001 -0.001 m/s");
  EXPECT_EQ(limit("under: \"3 m/s\"", 2, 3), "unproven(no_data) 0 0 1 m/s");
  EXPECT_EQ(limit("under: \"3.001 m/s\"", 2, 3), "met 0.001 0.001 1.001 m/s");
}

TEST(MayHaveEnded, AClaimIsConfirmedOrNot) {
  const auto claimed = [&](double confirmed) {
    return in_run(
        "sources_agree { phase: \"run\" claim: \"wheels.on_deck.on\" with: \"drive.ready.on\" "
        "within: \"3 s\" }",
        {{24, "desk", wheels("DECK")},
         {6, "switch", R"("driveReady":{"confirmed":false})"},
         {confirmed, "switch", kReady}});
  };
  EXPECT_EQ(claimed(27), "met 0 0 0 s");
  EXPECT_EQ(claimed(27 + kMicro), "unproven(no_data) -0.0001 -0.000001 3 s");
}

TEST(MayHaveEnded, TheWhileOfAnOrderThatIsKept) {
  const std::string phase =
      "phase { id: \"deck\" opens: \"wheels.on_deck.on\" closes: \"wheels.on_deck.off\" }\n";
  const auto waited = [&](double to) {
    return told(
        judged_form("wait_between { from: \"arrived\" to: \"secured.checked\" at_least: \"10 s\" } "
                    "while_phase: \"deck\"",
                    lines_of({{1, "switch", wheels("DECK")},
                              {20, "switch", kHere},
                              {21, "switch", kLost},
                              {150, "switch", kHere},
                              {30, "desk", kArrived},
                              {to, "desk", kChecked}}),
                    phase));
  };
  EXPECT_EQ(waited(40 - kMicro), "unproven(no_data) -0.0001 -0.000001 - s");
  EXPECT_EQ(waited(40), "met 0 0 0 s");
}

// The screen, first seen awake after a lost line, may have woken just before the scene was left.
TEST(MayHaveComeBefore, ByTwoMicroseconds) {
  const auto awake_after = [](const std::string& before) {
    return judged("comes_first { first: \"scene.set.on\" then: \"screen.awake.on\" }",
                  {{10, "desk", scene(true)},
                   {30 - 2 * kMicro, "panel", kHere},
                   {30 - kMicro, "panel", before},
                   {30, "desk", scene(false)},
                   {30, "panel", screen(true)}});
  };
  EXPECT_EQ(awake_after(kLost), "unproven(no_data) - - - s");
  EXPECT_EQ(awake_after(kHere), "deviated - - - s");
}

// Both off at one instant, and on before that only if a lost line said so: in order then, and no
// order else.
TEST(MayHaveComeBefore, OffAtOneInstantAccusesNobody) {
  const auto off_at = [](double second) {
    return judged("comes_first { first: \"scene.set.off\" then: \"secured.checked\" }",
                  {{5, "desk", kHere},
                   {10, "desk", kLost},
                   {second, "desk", scene(false)},
                   {50, "panel", kChecked},
                   {80, "desk", kHere}});
  };
  EXPECT_EQ(off_at(50 - kMicro).substr(0, 8), off_at(50).substr(0, 8));
}

// A wait just long enough, and one that a line lost before its end leaves open: that one is shown.
TEST(OneOfTwo, TheOpenOneIsShownAndNotTheOneJustKept) {
  const std::string wait =
      "wait_between { from: \"scene.set.on\" to: \"secured.checked\" at_least: \"10 s\" }";
  const Said words{{10, "desk", scene(true)},
                   {20, "panel", kChecked},
                   {25, "desk", scene(false)},
                   {40, "desk", scene(true)},
                   {56, "probe", kChecked}};
  // 16 s by a clock that is off by up to 5 s either way, less what is lost of the operator.
  EXPECT_EQ(judged(wait, words), "met 0 0 0 s");
  Said close = words;
  close.back().second = 52;
  EXPECT_EQ(judged(wait, close), "unproven(clock_doubt) -3 2 7 s");
  close.insert(close.end(),
               {{100, "operator", kHere}, {110, "operator", kLost}, {120, "operator", kHere}});
  EXPECT_EQ(judged(wait, close), "unproven(no_data) -3 2 7 s");
}

// A rule freed in the last word before a gap is not held open by it; nor for what was before.
TEST(OneOfTwo, WhatTheWhileHidesAfterTheRuleWasFreedIsFree) {
  const std::string count =
      "count_limit { phase: \"run\" event: \"secured.checked\" at_most: 1 } "
      "while_phase: \"set\" unless: \"wheels.on_deck.on\"";
  const std::string phases =
      kSet +
      "phase { id: \"run\" opens: \"screen.awake.on\" closes: \"screen.awake.off\" longest: "
      "\"1 h\" }\n";
  const auto freed = [&](const char* by, double second) {
    return told(judged_form(count,
                            lines_of({{4, "desk", scene(false)},
                                      {5, "panel", screen(true)},
                                      {second, by, wheels("DECK")},
                                      {20, "desk", kHere},
                                      {21, "desk", kLost},
                                      {40, "desk", scene(false)},
                                      {100, "panel", screen(false)}}),
                            phases));
  };
  EXPECT_EQ(freed("switch", 20), "no");
  EXPECT_EQ(freed("switch", 20 + kMicro), "unknown(no_data)");
  EXPECT_EQ(freed("switch", 30), "unknown(no_data)");
}

// So at the opening, then what two lines of one number make doubtful, then so again: the reason is
// the one that made it so.
TEST(WhyDoubted, AsTheStretchBeforeSays) {
  const Said words{
      {5, "desk", wheels("GROUND")}, {60, "panel", wheels("GROUND")}, {70, "panel", kChecked}};
  Lines lines = lines_of(words);
  const std::string form =
      "comes_first { first: \"wheels.on_ground.on\" then: \"secured.checked\" }";
  EXPECT_EQ(told(judged_form(form, lines)), "met 70 70 70 s");
  lines.push_back(line_at(30, "desk", 2, R"("note":{"text":"one thing"})"));
  lines.push_back(line_at(30, "desk", 2, R"("note":{"text":"another"})"));
  EXPECT_EQ(told(judged_form(form, lines)), "unproven(sources_disagree) - - - s");
}

}  // namespace
}  // namespace fairlead::judge
