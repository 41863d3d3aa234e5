// Every form where two clocks, 5 s off each other at most, just reach a limit or just do not: what
// is sure on either side of it, to the microsecond.
#include <gtest/gtest.h>

#include <functional>

#include "tests/unit/judge/word_lines.h"

namespace fairlead::judge {
namespace {

// At an instant something is sure, and a microsecond from there (`off` its sign) it is not.
struct Row {
  const char* what;
  std::string form;
  std::function<Said(double)> words;
  double at;
  int off;
  const char *reached, *passed;
};

void expect_rows(const std::vector<Row>& rows) {
  for (const Row& row : rows) {
    EXPECT_EQ(judged(row.form, row.words(row.at)), row.reached) << row.what << " " << row.at;
    EXPECT_EQ(judged(row.form, row.words(row.at + row.off * kMicro)), row.passed)
        << row.what << " " << row.at << " and a microsecond";
  }
}

// A microsecond is rounded outward to four places, and the best to the nearest.
constexpr const char *kMet = "met 0 5 10 s", *kOpen = "unproven(clock_doubt) -10 -5 0 s";
constexpr const char *kLower = "unproven(clock_doubt) -0.0001 5 10 s",
                     *kOut = "deviated -10.0001 -5 -0.000001 s";

TEST(ClocksReach, OrdersAndWaits) {
  const auto checked = [](double at) {
    return Said{{10, "desk", kArrived}, {at, "probe", kChecked}};
  };
  const std::string order = "comes_first { first: \"arrived\" then: \"secured.checked\" }";
  const auto answer =
      "follows_within { after: \"arrived\" then: \"secured.checked\" within: \"10 s\" }";
  const auto wait = [](const std::string& bound) {
    return "wait_between { from: \"arrived\" to: \"secured.checked\" " + bound + ": \"20 s\" }";
  };
  expect_rows({
      {"an order", order, checked, 15, -1, kMet, kLower},
      {"an order the other way round", order, checked, 5, -1, kOpen, kOut},
      {"an answer in time", answer, checked, 15, 1, kMet, kLower},
      {"an answer that may have come first", answer, checked, 15, -1, kMet,
       "unproven(clock_doubt) - 5 10 s"},
      {"an answer too late", answer, checked, 25, 1, kOpen, kOut},
      {"a wait", wait("at_least"), checked, 35, -1, kMet, kLower},
      {"a wait too short", wait("at_least"), checked, 25, -1, kOpen, kOut},
      {"a longest wait", wait("at_most"), checked, 25, 1, kMet, kLower},
      {"a wait too long", wait("at_most"), checked, 35, 1, kOpen, kOut},
  });
  // A check that may have come before the arrival waited for none.
  EXPECT_EQ(judged(wait("at_least"), checked(15)), "deviated -20 -15 -10 s");
  EXPECT_EQ(judged(wait("at_least"), checked(15 - kMicro)),
            "unproven(clock_doubt) -20.0001 -15 - s");
}

// Which arrival, or which edge of a fact, counts for a check.
TEST(ClocksReach, WhatCountsForACheck) {
  const std::string order = "comes_first { first: \"arrived\" then: \"secured.checked\" }";
  const std::string in_force = "comes_first { first: \"scene.set.on\" then: \"secured.checked\" }";
  const auto verdict = [](const std::string& form, const Said& words) {
    const std::string text = judged(form, words);
    return text.substr(0, text.find(' '));
  };
  // Left by the other clock: surely after the check, or perhaps before it; and the other way round.
  const auto left = [&](double at) {
    return verdict(
        in_force,
        {{10, "desk", scene(true)}, {20, "panel", kChecked}, {at, "probe", scene(false)}});
  };
  EXPECT_EQ(left(25), "met");
  EXPECT_EQ(left(25 - kMicro), "unproven(clock_doubt)");
  EXPECT_EQ(left(15 + kMicro), "unproven(clock_doubt)");
  EXPECT_EQ(left(15), "deviated");
  // It was the check's before, or perhaps not.
  const auto earlier = [&](double at) {
    return verdict(order,
                   {{at, "probe", kArrived}, {20, "panel", kChecked}, {40, "panel", kChecked}});
  };
  EXPECT_EQ(earlier(15), "deviated");
  EXPECT_EQ(earlier(15 + kMicro), "unproven(clock_doubt)");
  const auto between = [&](double at) {
    return verdict(order, {{10, "desk", kArrived},
                           {at, "probe", kArrived},
                           {20, "panel", kChecked},
                           {40, "panel", kChecked}});
  };
  EXPECT_EQ(between(25), "met");
  EXPECT_EQ(between(25 - kMicro), "unproven(clock_doubt)");
  // The last one before it, unless another may have come before it, too.
  const auto later = [&](double at) {
    return verdict("wait_between { from: \"arrived\" to: \"secured.checked\" at_most: \"15 s\" }",
                   {{10, "desk", kArrived}, {20, "panel", kChecked}, {at, "probe", kArrived}});
  };
  EXPECT_EQ(later(25), "met");
  EXPECT_EQ(later(25 - kMicro), "unknown(clock_doubt)");
}

// An arrival that hides before the check before is that one's, and one after the check nobody's.
TEST(ClocksReach, WhatHidesBetweenTwoChecks) {
  const auto lost = [](double from, double to) {
    const std::string text = judged("comes_first { first: \"arrived\" then: \"secured.checked\" }",
                                    {{2, "desk", kArrived},
                                     {from, "desk", kHere},
                                     {(from + to) / 2, "desk", kLost},
                                     {to, "desk", kHere},
                                     {30, "panel", kChecked},
                                     {50, "panel", kChecked}});
    return text.substr(0, text.find(' '));
  };
  EXPECT_EQ(lost(12, 16), "deviated");
  EXPECT_EQ(lost(12, 30), "deviated");
  EXPECT_EQ(lost(12, 30 + kMicro), "unproven(no_data)");
  EXPECT_EQ(lost(40, 45), "unproven(no_data)");
  EXPECT_EQ(lost(50 - 2 * kMicro, 60), "unproven(no_data)");
  EXPECT_EQ(lost(50, 60), "deviated");
}

TEST(ClocksReach, States) {
  const auto off_at = [](double at) {
    return Said{{10, "desk", scene(true)}, {30, "probe", kChecked}, {at, "desk", scene(false)}};
  };
  const std::string stays = "stays_until { state: \"scene.set\" until: \"secured.checked\" }";
  const auto together = [](const std::string& d) {
    return "never_together { state: \"scene.set\" with: \"drive.ready\" tolerate: \"" + d + "\" }";
  };
  const auto ready = [](double at) {
    return Said{{1, "probe", R"("driveReady":{"confirmed":false})"},
                {10, "desk", scene(true)},
                {30, "probe", kReady},
                {at, "desk", scene(false)}};
  };
  const auto recheck = [](const std::string& time) {
    return "recheck_every { phase: \"set\" check: \"secured.checked\" time: \"" + time +
           "\" parked_counts: true }";
  };
  const auto check_at = [](double at) {
    return Said{{10, "desk", scene(true)}, {at, "probe", kChecked}, {40, "desk", scene(false)}};
  };
  expect_rows({
      {"a stay", stays, off_at, 35, -1, kMet, kLower},
      {"a stay lost", stays, off_at, 25, -1, kOpen, kOut},
      {"together", together("15 s"), ready, 40, 1, kMet, kLower},
      {"together too long", together("5 s"), ready, 40, 1, kOpen, kOut},
      {"a check", recheck("25 s"), check_at, 30, 1, kMet, kLower},
      {"a check too late", recheck("15 s"), check_at, 30, 1, kOpen, kOut},
  });
}

TEST(ClocksReach, CountsAndConfirmations) {
  constexpr const char *one = "met 0 0 0 items", *none = "deviated -1 -1 -1 items",
                       *open = "unproven(clock_doubt) -1 -1 0 items",
                       *seen = "unproven(clock_doubt) -1 0 0 items";
  const auto set_with = [](double at) {
    return Said{{10, "desk", scene(true)}, {at, "probe", kChecked}, {60, "desk", scene(false)}};
  };
  const std::string count = "count_limit { phase: \"set\" event: \"secured.checked\" at_least: 1 }";
  const std::string before =
      "evidence_present { item: \"secured.checked\" at_least: 1 before: \"scene.set.off\" window: "
      "\"30 s\" }";
  const std::string after =
      "evidence_present { item: \"secured.checked\" at_least: 1 after: \"scene.set.on\" window: "
      "\"30 s\" }";
  const auto claim = [](double at) {
    return Said{{1, "probe", R"("driveReady":{"confirmed":false})"},
                {20, "desk", scene(true)},
                {at, "probe", kReady}};
  };
  const std::string agree =
      "sources_agree { phase: \"job\" claim: \"scene.set.on\" with: \"drive.ready.on\" within: "
      "\"10 s\" }";
  expect_rows({
      {"a phase's first instant", count, set_with, 15, -1, one, seen},
      {"before a phase", count, set_with, 5, -1, open, none},
      {"a phase's last", count, set_with, 55 - kMicro, 1, one, seen},
      {"after a phase", count, set_with, 65 - kMicro, 1, open, none},
      {"the anchor", before, set_with, 55, 1, one, open},
      {"after the anchor", before, set_with, 65, 1, open, none},
      {"the window", before, set_with, 35, -1, one, open},
      {"before the window", before, set_with, 25, -1, open, none},
      {"the anchor of what comes after", after, set_with, 15, -1, one, open},
      {"before that anchor", after, set_with, 5, -1, open, none},
      {"the window after", after, set_with, 35, 1, one, open},
      {"after that window", after, set_with, 45, 1, open, none},
      {"a claim", agree, claim, 25, 1, kMet, kLower},
      {"a claim, the other way", agree, claim, 15, -1, kMet, kLower},
      {"a claim too far off", agree, claim, 35, 1, kOpen, kOut},
      {"a claim too far off before", agree, claim, 5, -1, kOpen, kOut},
  });
}

// Volts by a clock of its own: 12 a second, but 20 for the second from `at` on.
Said volts(double at) {
  Said words{{10, "desk", scene(true)}, {30, "desk", scene(false)}};
  const auto say = [&](double second, int value) {
    words.push_back({second, "probe",
                     R"("sample":{"signal":"clamp.volts","value":)" + std::to_string(value) + "}"});
  };
  for (int i = 1; i < 45; ++i) {
    if (i <= at) say(i, i + 1 > at && i == at ? 20 : 12);
    if (i <= at && at < i + 1) {
      if (at > i) say(at, 20);
      say(at + 1, 12);
    }
    if (i > at + 1) say(i, 12);
  }
  return words;
}

TEST(ClocksReach, ReadingsInAPhase) {
  const auto limit = [](double at) {
    return judged(
               "limit_in_phase { phase: \"set\" quantity: \"clamp.volts\" at_most: \"15 V\" "
               "longest_gap: \"3 s\" }",
               volts(at))
        .substr(0, 21);
  };
  // Surely in it from 15 s, up to 25 s; perhaps from 5 s, up to 35 s.
  EXPECT_EQ(limit(15).substr(0, 8), "deviated");
  EXPECT_EQ(limit(15 - kMicro), "unproven(clock_doubt)");
  EXPECT_EQ(limit(24).substr(0, 8), "deviated");
  EXPECT_EQ(limit(25 - kMicro).substr(0, 8), "deviated");
  EXPECT_EQ(limit(25), "unproven(clock_doubt)");
  EXPECT_EQ(limit(4 + kMicro), "unproven(clock_doubt)");
  EXPECT_EQ(limit(4).substr(0, 3), "met");
  EXPECT_EQ(limit(35 - kMicro), "unproven(clock_doubt)");
  EXPECT_EQ(limit(35).substr(0, 3), "met");
}

}  // namespace
}  // namespace fairlead::judge
