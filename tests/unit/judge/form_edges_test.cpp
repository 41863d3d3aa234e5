// The rule forms where one line more or less, or one instant, decides: what a gap, a clock of its
// own or the order of two lines leaves open, form by form. Reasons stand beside each expectation.
#include <gtest/gtest.h>

#include "tests/unit/judge/word_lines.h"

namespace fairlead::judge {
namespace {

TEST(ComesFirstEdges, AnotherClockMayHaveEndedWhatWasSoAtTheOpening) {
  const std::string form =
      "comes_first { first: \"wheels.on_ground.on\" then: \"drive.ready.on\" }";
  EXPECT_EQ(judged(form, {{50, "desk", kReady}, {52, "probe", wheels("DECK")}}),
            "unproven(clock_doubt) - - - s");
  EXPECT_EQ(judged(form, {{50, "desk", kReady}, {56, "probe", wheels("DECK")}}), "met 50 50 50 s");
}

TEST(ComesFirstEdges, AThenFirstSeenAfterAGapMayHaveComeInIt) {
  const std::string form = "comes_first { first: \"scene.set.on\" then: \"screen.awake.on\" }";
  const std::vector<Word> before{{5, "panel", kHere}, {10, "desk", scene(true)}};
  const auto with = [&](std::vector<Word> more) {
    more.insert(more.begin(), before.begin(), before.end());
    return judged(form, more);
  };
  EXPECT_EQ(with({{20, "panel", kLost}, {30, "desk", scene(false)}, {50, "panel", screen(true)}}),
            "unproven(no_data) - - - s");
  EXPECT_EQ(with({{20, "panel", kHere}, {30, "desk", scene(false)}, {50, "panel", screen(true)}}),
            "deviated - - - s");
}

// The line lost last may have ended the stay in which the order is asked for.
TEST(ComesFirstEdges, NothingThatCameFirstIsDoubtedWhereTheStayMayHaveEnded) {
  const std::string form =
      "comes_first { first: \"secured.checked\" then: \"arrived\" } while_phase: \"set\"";
  const std::vector<Word> words{
      {5, "desk", scene(true)}, {10, "desk", kHere}, {50, "operator", kArrived}};
  EXPECT_EQ(judged(form, words), "deviated - - - s");
  std::vector<Word> lost = words;
  lost.insert(lost.end(), {{20, "desk", kLost}, {80, "desk", kHere}});
  EXPECT_EQ(judged(form, lost), "unproven(no_data) - - - s");
}

// What is lost after the anchor was not there before it.
TEST(EvidenceEdges, AGapThatBeginsWithTheAnchorHidesNothingBeforeIt) {
  const std::string form =
      "evidence_present { item: \"secured.checked\" at_least: 1 before: \"arrived\" }";
  EXPECT_EQ(judged(form, {{50, "desk", kArrived}, {60, "desk", kLost}, {70, "desk", kHere}}),
            "deviated -1 -1 -1 items");
}

TEST(EvidenceEdges, AnAnchorFirstSeenAfterAGapMayHaveComeInIt) {
  const std::string form =
      "evidence_present { item: \"secured.checked\" at_least: 1 after: \"scene.set.on\" }";
  EXPECT_EQ(judged(form, {{10, "desk", kHere},
                          {20, "desk", kLost},
                          {40, "desk", kChecked},
                          {50, "desk", scene(true)}}),
            "unproven(no_data) -1 -1 0 items");
  EXPECT_EQ(judged(form, {{10, "desk", kHere},
                          {30, "desk", kChecked},
                          {40, "desk", kLost},
                          {50, "desk", scene(true)}}),
            "deviated -1 -1 -1 items");
}

// What was seen, with its ends.
std::string valued(const std::string& form, const std::vector<Word>& words, double end = 200) {
  const Finding finding = judged_form(form, lines_of(words, end), kSet);
  std::string text;
  for (const Bound& bound : {finding.value_lo, finding.value_best, finding.value_hi})
    text += (text.empty() ? "" : " ") + bound.value_or("-");
  return text;
}

std::string fix(double metres_per_second, double sd) {
  return R"("fix":{"latDeg":44.5,"lonDeg":-30,"hSdM":2.5,"mode":3,"speedMps":)" +
         std::to_string(metres_per_second) + R"(,"speedSdMps":)" + std::to_string(sd) + "}";
}

TEST(Values, OfAnOrderAndAWait) {
  const std::vector<Word> words{{10, "desk", kArrived}, {50, "probe", kChecked}};
  const std::string order = "comes_first { first: \"arrived\" then: \"secured.checked\" }";
  const std::string wait =
      "wait_between { from: \"arrived\" to: \"secured.checked\" at_least: \"30 s\" }";
  EXPECT_EQ(valued(order, words), "35 40 45");
  EXPECT_EQ(valued(wait, words), "35 40 45");
}

TEST(Values, OfCountsAndEvidence) {
  const std::string count = "count_limit { phase: \"set\" event: \"secured.checked\" at_most: 3 }";
  const std::vector<Word> words{{10, "desk", scene(true)},
                                {20, "desk", kChecked},
                                {48, "probe", kChecked},
                                {50, "desk", scene(false)},
                                {52, "probe", kChecked}};
  EXPECT_EQ(valued(count, words), "1 2 3");
  EXPECT_EQ(judged(count, words), "met 0 1 2 items");
  const std::string evidence =
      "evidence_present { item: \"secured.checked\" at_least: 2 before: \"scene.set.off\" }";
  EXPECT_EQ(valued(evidence, words), "1 1 3");
  EXPECT_EQ(judged(evidence, words), "unproven(clock_doubt) -1 -1 1 items");
}

TEST(Values, OfReadingsBesideEachOtherAndOfALimit) {
  const std::string both =
      "sources_agree { phase: \"set\" quantity: \"vehicle.speed\" with: \"truck.speed\" "
      "within: \"1 m/s\" }";
  const std::string limit =
      "limit_in_phase { phase: \"set\" quantity: \"vehicle.speed\" under: \"3 m/s\" "
      "longest_gap: \"3 s\" }";
  std::vector<Word> words{{10, "desk", scene(true)}, {30, "desk", scene(false)}};
  for (int i = 5; i < 40; ++i) {
    words.push_back({i + 0.0, "gps.tag", fix(2, 0.1)});
    words.push_back({i + 0.0, "gps.truck", fix(i == 20 ? 2.6 : 2.1, 0.1)});
  }
  // u of both: 1.645 x 0.1 x sqrt 2 = 0.2326 m/s, in whole mm/s outward.
  EXPECT_EQ(valued(both, words), "- 0.6 -");
  EXPECT_EQ(judged(both, words), "met 0.167 0.4 0.633 m/s");
  // u of one: 0.1645; z of 6 x 3600 / 1.5 looks is 4.5.
  EXPECT_EQ(valued(limit, words), "1.835 2 2.165");
  EXPECT_EQ(judged(limit, words), "met 0.835 1 1.45 m/s");
}

TEST(Values, OfAWordBesideAnInstrument) {
  // One-way: the instrument stands, and a word that it contradicts deviates.
  std::vector<Word> words{{6, "desk", R"("sourcePower":{"on":true,"nominalVolts":12})"},
                          {10, "desk", scene(true)},
                          {30, "desk", scene(false)}};
  for (int i = 5; i < 40; ++i)
    words.push_back({i + 0.0, "clamp", R"("sample":{"signal":"clamp.volts","value":14})"});
  for (const std::string pair : {"quantity: \"source.nominal\" with: \"clamp.volts\"",
                                 "quantity: \"clamp.volts\" with: \"source.nominal\""}) {
    const std::string form = "sources_agree { phase: \"set\" " + pair + " within: \"1 V\" }";
    const Finding found = judged_form(form, lines_of(words), kSet);
    EXPECT_EQ(told(found), "deviated -1.231 -1 -0.769 V") << pair;  // 1.645 x 1 % of 14 V
    EXPECT_EQ(found.basis, Basis::kSaid) << pair;
  }
}

TEST(Values, OfAWayDrivenSinceACheck) {
  const std::string form =
      "recheck_every { phase: \"set\" check: \"secured.checked\" distance: \"100 m\" }";
  std::vector<Word> words{{10, "desk", scene(true)}, {40, "desk", scene(false)}};
  for (int i = 1; i < 60; ++i) words.push_back({i + 0.0, "gps.truck", fix(2, 0.1)});
  // 30 s at 2 m/s, 1.645 x 0.1 x sqrt(2 x 1.5 x 30) = 1.56 m.
  EXPECT_EQ(valued(form, words), "58.438 60 61.562");
  EXPECT_EQ(judged(form, words), "met 38.438 40 41.562 m");
}

TEST(RecheckEdges, TheFirstReasonOfAllLegsThatStayOpen) {
  // 60 m, more or less, of 60.5 up to the check; then 38 m so far.
  const std::string form =
      "recheck_every { phase: \"set\" check: \"secured.checked\" distance: \"60.5 m\" }";
  std::vector<Word> words{{10, "desk", scene(true)}, {40, "desk", kChecked}};
  for (int i = 1; i < 60; ++i) words.push_back({i + 0.0, "gps.truck", fix(2, 0.1)});
  EXPECT_EQ(judged(form, words, 0), "unproven(too_close) -1.062 0.5 2.062 m");
  // Without the check 98 m are too many, whatever still comes.
  words.erase(words.begin() + 1);
  EXPECT_EQ(judged(form, words, 0), "deviated -39.496 -37.5 -35.504 m");
}

TEST(RecheckEdges, ALimitThatNoFileGives) {
  const std::string form =
      "recheck_every { phase: \"set\" check: \"secured.checked\" parked_counts: true "
      "time: \"vehicle.wake_wait\" }";
  EXPECT_EQ(judged(form, {{10, "desk", scene(true)}, {40, "desk", scene(false)}}),
            "unproven(no_data) - - - s");
}

TEST(NeverTogetherEdges, MovedClearUpToTheLimitsThemselves) {
  // 2.5 m/s for 24 s, without noise: 60 m.
  std::vector<Word> words{{5, "desk", scene(true)}, {70, "desk", scene(false)}};
  for (int i = 1; i < 80; ++i)
    words.push_back({i + 0.0, "gps.truck", fix(i >= 20 && i < 44 ? 2.5 : 0, 0)});
  const auto clear = [&](const std::string& limits) {
    return judged(
        "never_together { state: \"scene.set\" with: \"truck.moving\" tolerate: \"5 s\" "
        "move_clear: \"" +
            limits + "\" }",
        words);
  };
  EXPECT_EQ(clear("60 m under 3 m/s"), "no");
  EXPECT_EQ(clear("59.999 m under 3 m/s"), "deviated -19 -19 -19 s");
  EXPECT_EQ(clear("100 m under 2.501 m/s"), "no");
  EXPECT_EQ(clear("100 m under 2.5 m/s"), "deviated -19 -19 -19 s");  // Under, not at most.
}

// Too fast for moving clear only beyond the noise of all 96 looks: 1e6 NormalDist().inv_cdf(1 -
// 0.05 / 96) is 3279025 (CPython 3.11), 328 mm/s of 100.
TEST(NeverTogetherEdges, MovedTooFastBeyondTheNoise) {
  std::vector<Word> words{{5, "desk", scene(true)},
                          {70, "desk", scene(false)},
                          {2, "mover", R"("truckMotion":{"moving":false})"},
                          {20, "mover", R"("truckMotion":{"moving":true})"},
                          {44, "mover", R"("truckMotion":{"moving":false})"}};
  for (int i = 1; i < 80; ++i)
    words.push_back({i + 0.0, "gps.truck", fix(i >= 20 && i < 44 ? 2.5 : 0, 0.1)});
  const auto under = [&](const std::string& speed) {
    return judged(
        "never_together { state: \"scene.set\" with: \"truck.moving\" tolerate: \"5 s\" "
        "move_clear: \"100 m under " +
            speed + "\" }",
        words);
  };
  EXPECT_EQ(under("2.172 m/s"), "deviated -19 -19 -19 s");
  EXPECT_EQ(under("2.173 m/s").substr(0, 8), "unproven");
}

TEST(NeverTogetherEdges, TheLongestIsShownAndOfEqualsTheFirst) {
  const std::string form =
      "never_together { state: \"scene.set\" with: \"screen.awake\" tolerate: \"5 s\" }";
  const auto at = [&](const std::vector<Word>& words) {
    const Finding found = judged_form(form, lines_of(words), kSet);
    return told(found) + " at " + std::to_string((*found.at_us / 1'000'000) % 600);
  };
  const std::vector<Word> twice{{3, "desk", screen(false)}, {10, "desk", scene(true)},
                                {20, "desk", screen(true)}, {30, "desk", screen(false)},
                                {50, "desk", screen(true)}, {60, "desk", screen(false)},
                                {90, "desk", scene(false)}};
  EXPECT_EQ(at(twice), "deviated -5 -5 -5 s at 20");
  // Never at once: the nearest approach, of two as near the first.
  const std::vector<Word> apart{{3, "desk", screen(false)},  {10, "desk", scene(true)},
                                {20, "desk", scene(false)},  {27, "desk", screen(true)},
                                {30, "desk", screen(false)}, {37, "desk", scene(true)},
                                {50, "desk", scene(false)}};
  EXPECT_EQ(at(apart), "met 12 12 12 s at 27");
}

TEST(WaitEdges, WhatHidBeforeTheLastEndBelongsToThat) {
  const std::string form =
      "wait_between { from: \"arrived\" to: \"secured.checked\" at_least: \"30 s\" }";
  const auto with = [&](double hole) {
    return judged(form, {{hole - 2, "desk", kHere},
                         {hole, "desk", kLost},
                         {hole + 2, "desk", kHere},
                         {12, "panel", kArrived},
                         {50, "panel", kChecked},
                         {60, "panel", kArrived},
                         {70, "panel", kChecked}});
  };
  EXPECT_EQ(with(6), "deviated -20 -20 -20 s");   // An arrival there is the first check's.
  EXPECT_EQ(with(54), "deviated -20 -20 -12 s");  // One at 52 s would leave 18 s.
}

}  // namespace
}  // namespace fairlead::judge
