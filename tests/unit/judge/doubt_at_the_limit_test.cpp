// A limit just reached while something may hide: what is inside stays met, and of several cases the
// one that is open is shown. Gaps that begin with the last instant that counts, or just after it.
#include <gtest/gtest.h>

#include "tests/unit/judge/word_lines.h"

namespace fairlead::judge {
namespace {

const std::string kNotReady = R"("driveReady":{"confirmed":false})";
const std::string kWait =
    "wait_between { from: \"scene.set.on\" to: \"secured.checked\" at_least: \"10 s\" }";
const std::string kStays = "stays_until { state: \"scene.set\" until: \"secured.checked\" ";
const std::string kNever =
    "never_together { state: \"scene.set\" with: \"drive.ready\" tolerate: \"10 s\" }";

std::string recheck(const std::string& time) {
  return "recheck_every { phase: \"set\" check: \"secured.checked\" time: \"" + time +
         "\" parked_counts: true }";
}

Said joined(Said words, const Said& more) {
  words.insert(words.end(), more.begin(), more.end());
  return words;
}

// Lost of the source, between two lines.
Said lost(const std::string& source, double from, double to) {
  return {{from, source, kHere}, {(from + to) / 2, source, kLost}, {to, source, kHere}};
}

TEST(DoubtAtTheLimit, WhatFreesTheRuleMayHideAndItIsKeptAnyway) {
  struct Row {
    std::string form;
    Said words;
  };
  const Row rows[] = {
      {"comes_first { first: \"arrived\" then: \"secured.checked\" min_gap: \"10 s\" }",
       {{30, "desk", kArrived}, {40, "desk", kChecked}}},
      {"follows_within { after: \"arrived\" then: \"secured.checked\" within: \"10 s\" }",
       {{30, "desk", kArrived}, {40, "desk", kChecked}}},
      {kWait, {{30, "desk", scene(true)}, {40, "desk", kChecked}}},
      {kStays + "at_least: \"10 s\" }", {{30, "desk", scene(true)}, {40, "desk", kChecked}}},
      {kNever,
       {{5, "panel", kNotReady},
        {25, "panel", kReady},
        {30, "desk", scene(true)},
        {40, "desk", scene(false)}}},
      {recheck("10 s"), {{30, "desk", scene(true)}, {40, "desk", scene(false)}}},
      {"evidence_present { item: \"secured.checked\" at_least: 1 before: \"arrived\" }",
       {{30, "desk", kChecked}, {40, "desk", kArrived}}},
      {"count_limit { phase: \"set\" event: \"secured.checked\" at_most: 1 }",
       {{30, "desk", scene(true)}, {35, "desk", kChecked}, {40, "desk", scene(false)}}},
      {"sources_agree { phase: \"job\" claim: \"scene.set.on\" with: \"drive.ready.on\" within: "
       "\"10 s\" }",
       {{5, "panel", kNotReady}, {30, "panel", kReady}, {40, "desk", scene(true)}}}};
  for (const Row& row : rows) {
    const Said words = joined({{1, "switch", screen(false)}}, row.words);
    EXPECT_EQ(judged(row.form, words).substr(0, 9), "met 0 0 0") << row.form;
    EXPECT_EQ(
        judged(row.form + " unless: \"screen.awake.on\"", joined(words, lost("switch", 20, 150)))
            .substr(0, 9),
        "met 0 0 0")
        << row.form;
  }
}

// Kept by nothing, then open by two clocks: what may hide besides is a doubt of the second.
TEST(DoubtAtTheLimit, OfSeveralTheOpenOneIsShown) {
  const Said gap = lost("operator", 100, 120);
  const Said waits{{10, "desk", scene(true)},
                   {20, "panel", kChecked},
                   {25, "desk", scene(false)},
                   {40, "desk", scene(true)},
                   {52, "probe", kChecked}};
  EXPECT_EQ(judged(kWait, waits), "unproven(clock_doubt) -3 2 7 s");
  EXPECT_EQ(judged(kWait, joined(waits, gap)), "unproven(no_data) -3 2 7 s");
  EXPECT_EQ(judged(kStays + "at_least: \"10 s\" }", waits).substr(0, 28),
            "unproven(clock_doubt) -3 2 7");
  EXPECT_EQ(judged(kStays + "at_least: \"10 s\" }", joined(waits, gap)).substr(0, 24),
            "unproven(no_data) -3 2 7");
  const Said together{{1, "probe", kNotReady},   {5, "probe", kReady},
                      {10, "desk", scene(true)}, {20, "desk", scene(false)},
                      {40, "desk", scene(true)}, {43, "probe", kNotReady},
                      {60, "desk", scene(false)}};
  EXPECT_EQ(judged(kNever, together), "met 0 0 0 s");
  const Said longer{{1, "probe", kNotReady},   {5, "probe", kReady},
                    {10, "desk", scene(true)}, {20, "desk", scene(false)},
                    {40, "desk", scene(true)}, {48, "probe", kNotReady},
                    {60, "desk", scene(false)}};
  EXPECT_EQ(judged(kNever, longer), "unproven(clock_doubt) -3 2 7 s");
  // Legs of just 10 s, then of 8 s by two clocks, then 7 s on.
  const Said legs{{10, "desk", scene(true)},
                  {20, "panel", kChecked},
                  {28, "probe", kChecked},
                  {33, "desk", scene(false)}};
  EXPECT_EQ(judged(recheck("10 s"), legs), "unproven(clock_doubt) -3 2 7 s");
}

TEST(DoubtAtTheLimit, NoLongerThanNothingTogether) {
  const auto off_at = [](double at) {
    return judged("never_together { state: \"scene.set\" with: \"drive.ready\" tolerate: \"0 s\" }",
                  {{1, "probe", kNotReady},
                   {10, "desk", scene(true)},
                   {30, "probe", kReady},
                   {at, "desk", scene(false)}});
  };
  EXPECT_EQ(off_at(35), "unproven(clock_doubt) -10 -5 0 s");
  EXPECT_EQ(off_at(35 + kMicro), "deviated -10.0001 -5 -0.000001 s");
}

TEST(DoubtAtTheLimit, MovedClearExcusesWhatIsTooLong) {
  // 2.5 m/s for 24 s: 60 m, and no more than the 24 s tolerated.
  Said words{{5, "desk", scene(true)}, {70, "desk", scene(false)}};
  for (int i = 1; i < 80; ++i)
    words.push_back({i + 0.0, "gps.truck", speed(i >= 20 && i < 44 ? 2.5 : 0)});
  const auto tolerated = [&](const std::string& d) {
    return judged("never_together { state: \"scene.set\" with: \"truck.moving\" tolerate: \"" + d +
                      "\" move_clear: \"60 m under 3 m/s\" }",
                  words);
  };
  EXPECT_EQ(tolerated("24 s"), "met 0 0 0 s");
  EXPECT_EQ(tolerated("23.999999 s"), "no");
}

TEST(DoubtAtTheLimit, ALegThatIsFreedWhenItIsJustLongEnough) {
  const auto freed = [](double at) {
    return judged(
        recheck("50 s") + " unless: \"screen.awake.on\"",
        {{10, "desk", scene(true)}, {at, "panel", screen(true)}, {90, "desk", scene(false)}});
  };
  EXPECT_EQ(freed(60 - kMicro), "no");
  EXPECT_EQ(freed(60), "no");
  EXPECT_EQ(freed(60 + kMicro), "deviated -0.0001 -0.000001 -0.000001 s");
  // The same where it may only have been freed: outside already, or not.
  const auto hidden = [](double from) {
    return judged(
        recheck("50 s") + " unless: \"screen.awake.on\"",
        joined({{1, "panel", screen(false)}, {10, "desk", scene(true)}, {90, "desk", scene(false)}},
               lost("panel", from, 150)));
  };
  EXPECT_EQ(hidden(59), "unproven(no_data) -30 -30 - s");
  EXPECT_EQ(hidden(60 - kMicro), "unproven(no_data) -30 -30 - s");
  EXPECT_EQ(hidden(60), "deviated -30 -30 -0.000001 s");  // What hides came after the line.
}

// A leg that a check may have cut just at its limit, then one that two clocks leave at it: the
// first of both reasons.
TEST(DoubtAtTheLimit, EveryOpenLegGivesItsReason) {
  const Said legs{{10, "desk", scene(true)},
                  {64, "panel", kChecked},
                  {119, "probe", kChecked},
                  {130, "desk", scene(false)}};
  EXPECT_EQ(judged(recheck("50 s"), joined(lost("panel", 60 - kMicro, 62), legs)),
            "unproven(no_data) -10 -5 0 s");
  const Said sure{{10, "desk", scene(true)},
                  {60, "desk", kChecked},
                  {115, "probe", kChecked},
                  {130, "desk", scene(false)}};
  EXPECT_EQ(judged(recheck("50 s"), sure), "unproven(clock_doubt) -10 -5 0 s");
}

TEST(DoubtAtTheLimit, AnAnswerThatMayHideUpToItsDeadline) {
  const std::string answer =
      "follows_within { after: \"arrived\" then: \"secured.checked\" within: \"10 s\" }";
  const auto hidden_from = [&](double from, const Said& more) {
    return judged(
        answer, joined(joined({{30, "desk", kArrived}}, more), lost("operator", from, from + 60)));
  };
  // What hides came after the line before it.
  EXPECT_EQ(hidden_from(40 - 2 * kMicro, {}), "unproven(no_data) - - 0.0001 s");
  EXPECT_EQ(hidden_from(40 - kMicro, {}), "unproven(no_data) - - 0 s");
  EXPECT_EQ(hidden_from(40, {}), "deviated - - -160 s");
  const Said late{{120, "desk", kChecked}};
  EXPECT_EQ(hidden_from(40 - kMicro, late), "unproven(no_data) -80 -80 0 s");
  EXPECT_EQ(hidden_from(40, late), "deviated -80 -80 -80 s");
  // At one instant with what it answers it is an answer; just before, if two clocks say so, none.
  EXPECT_EQ(judged(answer, {{30, "desk", kArrived}, {30, "panel", kChecked}}), "met 10 10 10 s");
  EXPECT_EQ(judged(answer, {{30, "desk", kArrived}, {25, "probe", kChecked}}),
            "unproven(clock_doubt) - - 10 s");
  EXPECT_EQ(judged(answer, {{30, "desk", kArrived}, {25 - kMicro, "probe", kChecked}}),
            "deviated - - -160 s");
}

TEST(DoubtAtTheLimit, WaitsThatTwoClocksLeaveOpen) {
  const auto wait = [](const std::string& bound, const Said& words) {
    return judged("wait_between { from: \"arrived\" to: \"secured.checked\" " + bound + " }",
                  words);
  };
  // From 1 s before to 9 s after.
  const Said four{{10, "desk", kArrived}, {14, "probe", kChecked}};
  EXPECT_EQ(wait("at_least: \"9 s\"", four), "unproven(clock_doubt) -10 -5 0 s");
  EXPECT_EQ(wait("at_least: \"5 s\"", four), "unproven(clock_doubt) -6 -1 4 s");
  EXPECT_EQ(wait("at_least: \"9.000001 s\"", four).substr(0, 23), "unproven(clock_doubt) -");
  // The next arrival may have come before it, or not.
  EXPECT_EQ(wait("at_least: \"9 s\"", {{10, "desk", kChecked}, {15, "probe", kArrived}}), "no");
  EXPECT_EQ(wait("at_least: \"9 s\"", {{10, "desk", kChecked}, {15 - kMicro, "probe", kArrived}}),
            "unknown(clock_doubt)");
  // An arrival that hides right before the check: no wait at all.
  const Finding found = judged_form(
      "wait_between { from: \"arrived\" to: \"secured.checked\" at_most: \"30 s\" }",
      lines_of(joined({{10, "desk", kArrived}, {50, "panel", kChecked}}, lost("desk", 20, 60))));
  EXPECT_EQ(told(found), "unproven(no_data) -10 -10 30 s");
  EXPECT_EQ(found.value_lo, "0");
}

TEST(DoubtAtTheLimit, EachItemOnceHoweverOftenItCame) {
  const std::string both =
      "evidence_present { item: \"secured.checked\" item: \"screen.awake.on\" at_least: 2 before: "
      "\"arrived\" }";
  const Said words{{3, "panel", screen(false)},
                   {10, "desk", kChecked},
                   {20, "desk", kChecked},
                   {30, "desk", kChecked},
                   {60, "desk", kArrived}};
  EXPECT_EQ(judged(both, words), "deviated -1 -1 -1 items");
  EXPECT_EQ(judged(both, joined(words, {{40, "panel", screen(true)}})), "met 0 0 0 items");
  // More of them than there are kinds: each counts.
  EXPECT_EQ(judged("evidence_present { item: \"secured.checked\" at_least: 3 before: \"arrived\" }",
                   words),
            "met 0 0 0 items");
}

TEST(DoubtAtTheLimit, AClaimConfirmedBeforeItWasMade) {
  const std::string form =
      "sources_agree { phase: \"job\" claim: \"scene.set.on\" with: \"drive.ready.on\" within: "
      "\"3 s\" }";
  const auto open = [&](double ready) {
    return judged(
        form, {{5, "panel", kNotReady}, {ready, "panel", kReady}, {20, "desk", scene(true)}}, 0);
  };
  EXPECT_EQ(open(17), "met 0 0 0 s");
  EXPECT_EQ(open(17 - kMicro), "unproven(not_yet) -0.0001 -0.000001 3 s");
}

// Never seen together, as one of them was only perhaps so: since the last word before a gap.
TEST(DoubtAtTheLimit, WhatHidesFromTheInstantTheRuleWasFreedIsFree) {
  const auto freed = [](double at) {
    return judged(kNever + " unless: \"screen.awake.on\"", {{1, "desk", scene(false)},
                                                            {2, "panel", kReady},
                                                            {at, "switch", screen(true)},
                                                            {20, "desk", kHere},
                                                            {21, "desk", kLost},
                                                            {60, "desk", scene(false)}});
  };
  EXPECT_EQ(freed(20), "no");
  EXPECT_EQ(freed(20 + kMicro), "unknown(no_data)");
  EXPECT_EQ(freed(20 + 2 * kMicro), "unknown(no_data)");
}

}  // namespace
}  // namespace fairlead::judge
