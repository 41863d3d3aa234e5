// follows_within, wait_between, stays_until: each verdict, each reason for unproven, a gap at each
// place, any order of arrival, the sentence. Times are worked out beside each expectation.
#include <gtest/gtest.h>

#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

using Words = std::vector<std::string>;

v1::Observation op(double second, uint32_t seq, const std::string& kind) {
  return line_at(second, "operator", seq, kind);
}
v1::Observation scene(double second, uint32_t seq, bool set) {
  return op(second, seq, std::string(R"("scene":{"set":)") + (set ? "true}" : "false}"));
}
v1::Observation screen(double second, uint32_t seq) {
  return op(second, seq, R"("screen":{"awake":true})");
}
v1::Observation checked(double second, uint32_t seq) {
  return op(second, seq, R"("secured":{"checked":true})");
}
v1::Observation arrived(double second, uint32_t seq) { return op(second, seq, R"("arrived":{})"); }
v1::Observation note(double second, uint32_t seq) {
  return op(second, seq, R"("note":{"text":"nothing"})");
}

// A line of another device whose clock is off by up to 5 s.
v1::Observation other_clock(double second, const std::string& kind) {
  v1::Observation line = line_at(second, "probe", 1, kind);
  line.set_clock("probe");
  line.set_time_uncertainty_ms(5000);
  return line;
}

const std::string kFollows =
    "follows_within { after: \"arrived\" then: \"secured.checked\" within: \"60 s\" }";

TEST(FollowsWithin, EachVerdict) {
  const Finding met =
      judged_form(kFollows, {opened_line(), arrived(10, 2), checked(50, 3), closed_line(200, 4)});
  EXPECT_EQ(told(met), "met 20 20 20 s");  // 60 - 40
  EXPECT_TRUE(met.settled);
  EXPECT_EQ(sentence_of(met),
            "r met: secured.checked after arrived, at 10:00:50, limit within 60 s, 20 s inside; "
            "said; record: operator #2, #3; settled");
  EXPECT_EQ(told(judged_form(kFollows,
                             {opened_line(), arrived(10, 2), checked(90, 3), closed_line(200, 4)})),
            "deviated -20 -20 -20 s");  // 60 - 80
  // Never: at least 60 - (200 - 10) outside.
  const Finding never =
      judged_form(kFollows, {opened_line(), arrived(10, 2), note(50, 3), closed_line(200, 4)});
  EXPECT_EQ(told(never), "deviated - - -130 s");
  EXPECT_EQ(sentence_of(never),
            "r deviated: no secured.checked after arrived, due by 10:01:10, limit within 60 s; "
            "said; record: operator #2, #4; settled");
  EXPECT_EQ(told(judged_form(kFollows, {opened_line(), checked(50, 2), closed_line(200, 3)})),
            "no");
}

TEST(FollowsWithin, EachReason) {
  // The job ends 40 s after the arrival; or is still open then.
  EXPECT_EQ(told(judged_form(kFollows, {opened_line(), arrived(10, 2), closed_line(50, 3)})),
            "unproven(cut_short) - - 20 s");
  EXPECT_EQ(told(judged_form(kFollows, {opened_line(), arrived(10, 2), note(50, 3)})),
            "unproven(not_yet) - - 20 s");
  // 58 s later by a clock that may be 5 s off: 2 s inside, -3 to 7.
  EXPECT_EQ(told(judged_form(
                kFollows, {opened_line(), arrived(10, 2),
                           other_clock(68, R"("secured":{"checked":true})"), closed_line(200, 3)})),
            "unproven(clock_doubt) -3 2 7 s");
  // The lost line lies between 30 s and 100 s: a check there would be 40 s inside at best.
  EXPECT_EQ(told(judged_form(kFollows, {opened_line(), arrived(10, 2), note(30, 3), note(100, 5),
                                        closed_line(200, 6)})),
            "unproven(no_data) - - 40 s");
}

TEST(FollowsWithin, AGapAtEachPlaceAndAnyOrder) {
  const Lines lines{opened_line(),  note(5, 2),  arrived(10, 3),
                    checked(50, 4), note(60, 5), closed_line(200, 6)};
  EXPECT_EQ(with_each_lost(kFollows, lines),
            (Words{"operator 2: unproven(no_data) 20 20 20 s",  // another arrival may hide
                   "operator 3: unknown(no_data)",              // the only one is lost
                   "operator 4: unproven(no_data) - - 60 s",    // a check may be there
                   "operator 5: unproven(no_data) 20 20 20 s"}));
  expect_any_order(kFollows, lines);
}

TEST(FollowsWithin, WhatFreesTheRuleIsNoMissingAnswer) {
  const std::string freed = "unless: \"arrived\" " + kFollows;
  EXPECT_EQ(told(judged_form(freed, {opened_line(), note(20, 3), closed_line(200, 4)})), "no");
}

const std::string kWaits =
    "wait_between { from: \"scene.set.on\" to: \"secured.checked\" at_least: \"30 s\" }";
const std::string kWaitsAtMost =
    "wait_between { from: \"scene.set.on\" to: \"secured.checked\" at_most: \"30 s\" }";

TEST(WaitBetween, EachVerdict) {
  const Lines forty{opened_line(), scene(10, 2, true), checked(50, 3), closed_line(200, 4)};
  const Finding met = judged_form(kWaits, forty);
  EXPECT_EQ(told(met), "met 10 10 10 s");
  EXPECT_EQ(sentence_of(met),
            "r met: secured.checked after scene.set.on, at 10:00:50, limit at least 30 s, 10 s "
            "inside; said; record: operator #2, #3; settled");
  EXPECT_EQ(told(judged_form(kWaitsAtMost, forty)), "deviated -10 -10 -10 s");
  EXPECT_EQ(told(judged_form(
                kWaits, {opened_line(), scene(10, 2, true), checked(32, 3), closed_line(200, 4)})),
            "deviated -8 -8 -8 s");
  // Without an A the order rule speaks, not this one; so without a B, and with the scene off again.
  EXPECT_EQ(told(judged_form(kWaits, {opened_line(), checked(50, 2), closed_line(200, 3)})), "no");
  EXPECT_EQ(told(judged_form(kWaits, {opened_line(), scene(10, 2, true), closed_line(200, 3)})),
            "no");
  EXPECT_EQ(told(judged_form(kWaits, {opened_line(), scene(10, 2, true), scene(20, 3, false),
                                      checked(50, 4), closed_line(200, 5)})),
            "no");
}

TEST(WaitBetween, EachReason) {
  EXPECT_EQ(told(judged_form(
                kWaits, {opened_line(), scene(10, 2, true),
                         other_clock(42, R"("secured":{"checked":true})"), closed_line(200, 3)})),
            "unproven(clock_doubt) -3 2 7 s");
  EXPECT_EQ(told(judged_form(kWaits, {opened_line(), scene(10, 2, true), note(50, 3)})),
            "unknown(not_yet)");
  EXPECT_EQ(told(judged_form(kWaits, {opened_line(), note(5, 2), note(20, 4), checked(50, 5),
                                      closed_line(200, 6)})),
            "unknown(no_data)");
}

TEST(WaitBetween, AnEarlierOneThatHidesMayBeLongEnoughAgo) {
  // 20 of 30 s since the arrival seen; one lost between 5 and 20 s would be up to 45 s ago.
  const std::string form =
      "wait_between { from: \"arrived\" to: \"secured.checked\" at_least: \"30 s\" }";
  EXPECT_EQ(told(judged_form(form, {opened_line(), note(5, 2), note(20, 4), arrived(30, 5),
                                    checked(50, 6), closed_line(200, 7)})),
            "unproven(no_data) -10 -10 15 s");
}

TEST(WaitBetween, AGapAtEachPlaceAndAnyOrder) {
  const Lines lines{opened_line(), note(5, 2),     scene(10, 3, true),
                    note(30, 4),   checked(50, 5), closed_line(200, 6)};
  EXPECT_EQ(
      with_each_lost(kWaits, lines),
      (Words{"operator 2: unproven(no_data) 10 10 20 s",  // the scene may have been set before
             "operator 3: unknown(no_data)", "operator 4: unknown(no_data)",
             "operator 5: unknown(no_data)"}));
  expect_any_order(kWaits, lines);
}

TEST(WaitBetween, AWaitFromWhatFreesTheRuleIsNone) {
  const std::string freed =
      "unless: \"arrived\" wait_between { from: \"arrived\" to: \"secured.checked\" at_least: \"30 "
      "s\" }";
  EXPECT_EQ(told(judged_form(freed, {opened_line(), note(5, 2), note(20, 4), checked(50, 5),
                                     arrived(90, 6), checked(100, 7), closed_line(200, 8)})),
            "no");
}

const std::string kStays =
    "stays_until { state: \"scene.set\" until: \"screen.awake.on\" bridge: \"2 s\" }";

TEST(StaysUntil, EachVerdict) {
  const Finding met = judged_form(kStays, {opened_line(), scene(10, 2, true), screen(60, 3),
                                           scene(75, 4, false), closed_line(200, 5)});
  EXPECT_EQ(told(met), "met 15 15 15 s");  // 75 - 60
  EXPECT_EQ(sentence_of(met),
            "r met: scene.set held until screen.awake.on, at 10:01:00, limit until "
            "screen.awake.on, 15 s inside; said; record: operator #2, #4, #3; settled");
  EXPECT_EQ(told(judged_form(kStays, {opened_line(), scene(10, 2, true), scene(40, 3, false),
                                      screen(60, 4), closed_line(200, 5)})),
            "deviated -20 -20 -20 s");
  // A flicker of 1.5 s is bridged, one of 5 s is not.
  EXPECT_EQ(told(judged_form(kStays, {opened_line(), scene(10, 2, true), scene(30, 3, false),
                                      scene(31.5, 4, true), screen(60, 5), closed_line(200, 6)})),
            "met 140 140 - s");
  EXPECT_EQ(told(judged_form(kStays, {opened_line(), scene(10, 2, true), scene(30, 3, false),
                                      scene(35, 4, true), screen(60, 5), closed_line(200, 6)})),
            "deviated -30 -30 -30 s");
  EXPECT_EQ(told(judged_form(kStays, {opened_line(), screen(60, 2), closed_line(200, 3)})), "no");
}

TEST(StaysUntil, Dwell) {
  const auto dwell = [](const std::string& bounds, double until) {
    return told(judged_form(
        "stays_until { state: \"scene.set\" until: \"screen.awake.on\" " + bounds + " }",
        {opened_line(), scene(10, 2, true), screen(until, 3), closed_line(200, 4)}));
  };
  EXPECT_EQ(dwell("at_least: \"40 s\"", 60), "met 10 10 10 s");
  EXPECT_EQ(dwell("at_least: \"40 s\"", 45), "deviated -5 -5 -5 s");
  EXPECT_EQ(dwell("at_most: \"40 s\"", 60), "deviated -10 -10 -10 s");
  EXPECT_EQ(dwell("at_least: \"20 s\" at_most: \"40 s\"", 45), "met 5 5 5 s");
}

TEST(StaysUntil, EachReason) {
  EXPECT_EQ(told(judged_form(kStays, {opened_line(), scene(10, 2, true), closed_line(200, 3)})),
            "unproven(cut_short) - - - s");
  EXPECT_EQ(told(judged_form(kStays, {opened_line(), scene(10, 2, true), note(50, 3)})),
            "unproven(not_yet) - - - s");
  // Awake by another clock at 58 +-5 s, off at 60 s.
  EXPECT_EQ(told(judged_form(kStays, {opened_line(), scene(10, 2, true),
                                      other_clock(58, R"("screen":{"awake":true})"),
                                      scene(60, 3, false), closed_line(200, 4)})),
            "unproven(clock_doubt) -3 2 7 s");
  EXPECT_EQ(told(judged_form(kStays, {opened_line(), scene(10, 2, true), note(20, 3), note(40, 5),
                                      screen(60, 6), closed_line(200, 7)})),
            "unproven(no_data) -40 -40 - s");
}

TEST(StaysUntil, AGapAtEachPlaceAndAnyOrder) {
  const Lines lines{opened_line(), scene(10, 2, true),  note(11, 3), note(30, 4),
                    screen(60, 5), scene(75, 6, false), note(90, 7), closed_line(200, 8)};
  const Words found = with_each_lost(kStays, lines);
  ASSERT_EQ(found.size(), 6u);
  EXPECT_EQ(found[0], "operator 2: unknown(no_data)");
  EXPECT_EQ(found[1], "operator 3: unknown(no_data)");  // it may have been set for an instant only
  for (size_t i = 2; i < 4; ++i)
    EXPECT_NE(found[i].find("unproven(no_data)"), std::string::npos) << found[i];
  // What is lost after it woke may have been the end of it, or another beginning.
  for (size_t i = 4; i < 6; ++i)
    EXPECT_NE(found[i].find("unproven(no_data)"), std::string::npos) << found[i];
  expect_any_order(kStays, lines);
}

TEST(StaysUntil, WhatHidesAfterTheLossHealsNothing) {
  // Off at 40 s; the line lost after 41 s may be the waking, which would come too late.
  const Lines lines{opened_line(), scene(10, 2, true), scene(40, 3, false),
                    note(41, 4),   note(60, 6),        closed_line(200, 7)};
  const std::string plain = "stays_until { state: \"scene.set\" until: \"screen.awake.on\" }";
  EXPECT_EQ(judged_form(plain, lines).verdict, Verdict::kDeviated);
  EXPECT_EQ(judged_form(kStays, lines).verdict, Verdict::kUnproven);  // 2 s would be bridged
  // Lost at once after it: it may have been on again 0.3 s later, which is no change at all.
  EXPECT_EQ(judged_form(plain, {opened_line(), scene(10, 2, true), scene(40, 3, false), note(60, 5),
                                closed_line(200, 6)})
                .verdict,
            Verdict::kUnproven);
}

TEST(StaysUntil, AHiddenWayOutAccusesNobody) {
  // The line lost between 21 and 60 s may be what frees the rule before it woke at 80 s.
  const Lines lines{opened_line(), scene(10, 2, true), scene(20, 3, false), note(21, 4),
                    note(60, 6),   screen(80, 7),      closed_line(200, 8)};
  const std::string plain = "stays_until { state: \"scene.set\" until: \"screen.awake.on\" }";
  EXPECT_EQ(judged_form(plain, lines).verdict, Verdict::kDeviated);
  const Finding freed = judged_form("unless: \"arrived\" " + plain, lines);
  EXPECT_EQ(freed.verdict, Verdict::kUnproven);
  EXPECT_EQ(freed.reason, Reason::kNoData);
  // What ends a job cannot hide before lines that go on.
  EXPECT_EQ(judged_form("unless: \"abandoned\" " + plain, lines).verdict, Verdict::kDeviated);
}

TEST(StaysUntil, AStartAfterAShortLossMayOnlyEndAFlicker) {
  // Off from 40 to 41.5 s, bridged 2 s; whether it was on before is lost with the line before 30 s.
  const Lines lines{opened_line(),        note(5, 2),          note(30, 4),   scene(40, 5, false),
                    scene(41.5, 6, true), scene(60, 7, false), screen(90, 8), closed_line(200, 9)};
  EXPECT_EQ(judged_form(kStays, lines).verdict, Verdict::kUnproven);
}

}  // namespace
}  // namespace fairlead::judge
