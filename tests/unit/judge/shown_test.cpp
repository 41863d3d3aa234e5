// What a finding shows beside its verdict: the instant that decides, the lines that do and what
// each does, what is seen and how it is known. Of several cases the worst is shown; of equals the
// first.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "daemon/base/time_text.h"
#include "tests/unit/judge/word_lines.h"

namespace fairlead::judge {
namespace {

// "met -1 0 1 s at 20; seen 9 10 11; opens desk 1, critical panel 2; said".
std::string shown(const std::string& form, const Said& words, double end = 200,
                  const std::string& phases = kSet) {
  const Finding found = judged_form(form, lines_of(words, end), phases);
  std::string text = told(found);
  if (found.at_us)
    text += fmt::format(
        " at {}", static_cast<double>(*found.at_us - *parse_time_us("2026-03-02T10:00:00Z")) / 1e6);
  text += "; seen";
  for (const Bound& bound : {found.value_lo, found.value_best, found.value_hi})
    text += " " + bound.value_or("-");
  const char* before = "; ";
  for (const Evidence& line : found.evidence) {
    text += fmt::format("{}{} {} {}", before, line.role, line.source, line.seq);
    before = ", ";
  }
  return text + "; " + word(found.basis);
}

TEST(Shown, OfOrders) {
  const std::string order = "comes_first { first: \"arrived\" then: \"secured.checked\" }";
  EXPECT_EQ(shown(order, {{10, "desk", kArrived}, {20, "panel", kChecked}}),
            "met 10 10 10 s at 20; seen 10 10 10; opens desk 1, critical panel 1; said");
  EXPECT_EQ(shown(order, {{20, "panel", kChecked}, {30, "desk", kArrived}}),
            "deviated -10 -10 -10 s at 20; seen -10 -10 -10; contradicts desk 1, critical panel 1; "
            "said");
  EXPECT_EQ(shown(order, {{20, "panel", kChecked}}),
            "deviated - - - s at 20; seen - - -; critical panel 1; measured");
  // Each check wants an arrival of its own, the earliest since the check before it.
  EXPECT_EQ(shown(order, {{10, "desk", kArrived},
                          {12, "desk", kArrived},
                          {20, "panel", kChecked},
                          {25, "desk", kArrived},
                          {26, "desk", kArrived},
                          {30, "panel", kChecked}}),
            "met 5 5 5 s at 30; seen 5 5 5; opens desk 3, critical panel 2; said");
  EXPECT_EQ(shown(order, {{10, "desk", kArrived},
                          {20, "panel", kChecked},
                          {30, "panel", kChecked},
                          {40, "panel", kChecked},
                          {45, "desk", kArrived}}),
            "deviated -15 -15 -15 s at 30; seen -15 -15 -15; contradicts desk 2, critical panel 2; "
            "said");
  // What can be put back is in force by its last edge, and went off by the one that put it on.
  const std::string off = "comes_first { first: \"scene.set.off\" then: \"secured.checked\" }";
  EXPECT_EQ(shown(off, {{5, "desk", scene(true)},
                        {10, "desk", scene(false)},
                        {12, "desk", scene(true)},
                        {16, "desk", scene(false)},
                        {20, "panel", kChecked}}),
            "met 4 4 4 s at 20; seen 4 4 4; opens desk 4, critical panel 1, opens desk 3; said");
  EXPECT_EQ(shown(off, {{5, "desk", scene(true)},
                        {10, "desk", scene(false)},
                        {12, "desk", scene(true)},
                        {20, "panel", kChecked},
                        {26, "desk", scene(false)}}),
            "deviated -6 -6 -6 s at 20; seen -6 -6 -6; contradicts desk 4, critical panel 1, opens "
            "desk 3; said");
}

TEST(Shown, OfAnswersAndWaits) {
  const std::string answer =
      "follows_within { after: \"arrived\" then: \"secured.checked\" within: \"30 s\" }";
  EXPECT_EQ(shown(answer, {{10, "desk", kArrived}, {20, "panel", kChecked}}),
            "met 20 20 20 s at 20; seen - - -; opens desk 1, critical panel 1; said");
  EXPECT_EQ(shown(answer, {{10, "desk", kArrived}}),
            "deviated - - -160 s at 40; seen - - -; opens desk 1, closes operator 2; said");
  EXPECT_EQ(
      shown(answer, {{10, "desk", kArrived}, {50, "panel", kChecked}, {60, "panel", kChecked}}),
      "deviated -10 -10 -10 s at 50; seen - - -; opens desk 1, critical panel 1; said");
  EXPECT_EQ(shown(answer, {{10, "desk", kArrived},
                           {15, "desk", kArrived},
                           {12, "panel", kChecked},
                           {35, "panel", kChecked}}),
            "met 10 10 10 s at 35; seen - - -; opens desk 2, critical panel 2; said");
  const auto wait = [](const std::string& bound) {
    return "wait_between { from: \"arrived\" to: \"secured.checked\" " + bound + " }";
  };
  const Said twice{{10, "desk", kArrived}, {14, "desk", kArrived}, {20, "panel", kChecked}};
  EXPECT_EQ(shown(wait("at_least: \"4 s\""), twice),
            "met 6 6 6 s at 20; seen 10 10 10; opens desk 1, critical panel 1; said");
  EXPECT_EQ(shown(wait("at_most: \"8 s\""), twice),
            "met 2 2 2 s at 20; seen 6 6 6; opens desk 2, critical panel 1; said");
  EXPECT_EQ(shown(wait("at_least: \"4 s\""), {{10, "desk", kArrived},
                                              {17, "panel", kChecked},
                                              {20, "desk", kArrived},
                                              {25, "panel", kChecked},
                                              {30, "desk", kArrived},
                                              {35, "panel", kChecked}}),
            "met 1 1 1 s at 25; seen 5 5 5; opens desk 2, critical panel 2; said");
  EXPECT_EQ(shown(wait("at_least: \"4 s\""), {{10, "panel", kChecked}}), "no; seen - - -; ");
}

TEST(Shown, OfStates) {
  const std::string stays = "stays_until { state: \"scene.set\" until: \"secured.checked\" }";
  EXPECT_EQ(shown(stays,
                  {{10, "desk", scene(true)}, {20, "desk", scene(false)}, {30, "panel", kChecked}}),
            "deviated -10 -10 -10 s at 20; seen - - -; opens desk 1, critical desk 2, closes panel "
            "1; said");
  EXPECT_EQ(shown(stays,
                  {{10, "desk", scene(true)}, {30, "panel", kChecked}, {36, "desk", scene(false)}}),
            "met 6 6 6 s at 30; seen - - -; opens desk 1, critical desk 2, closes panel 1; said");
  EXPECT_EQ(shown(stays, {{10, "desk", scene(true)}, {30, "panel", kChecked}}),
            "met 170 170 - s at 30; seen - - -; opens desk 1, closes panel 1; said");
  const std::string never =
      "never_together { state: \"scene.set\" with: \"drive.ready\" tolerate: \"5 s\" }";
  EXPECT_EQ(shown(never, {{5, "panel", kReady},
                          {10, "desk", scene(true)},
                          {13, "desk", scene(false)},
                          {20, "desk", scene(true)},
                          {27, "desk", scene(false)}}),
            "deviated -2 -2 -2 s at 20; seen - - -; opens desk 3, opens panel 1, closes desk 4; "
            "said");
  EXPECT_EQ(shown(never, {{5, "panel", kReady},
                          {10, "panel", R"("driveReady":{"confirmed":false})"},
                          {13, "desk", scene(true)}}),
            "met 8 8 8 s at 13; seen - - -; opens panel 2, critical desk 1; said");
  const std::string recheck =
      "recheck_every { phase: \"set\" check: \"secured.checked\" time: \"20 s\" parked_counts: "
      "true }";
  const Said legs{{10, "desk", scene(true)},
                  {15, "panel", kChecked},
                  {30, "panel", kChecked},
                  {42, "desk", scene(false)}};
  EXPECT_EQ(shown(recheck, legs),
            "met 5 5 5 s at 30; seen 15 15 15; opens panel 1, critical panel 2; measured");
  Said longer = legs;
  longer.back().second = 52;
  EXPECT_EQ(shown(recheck, longer),
            "deviated -2 -2 -2 s at 52; seen 22 22 22; opens panel 2, closes desk 2; said");
}

TEST(Shown, OfCounts) {
  const std::string count = "count_limit { phase: \"set\" event: \"secured.checked\" at_most: 1 }";
  const Said some{{10, "desk", scene(true)},
                  {20, "panel", kChecked},
                  {30, "panel", kChecked},
                  {40, "panel", kChecked},
                  {50, "desk", scene(false)}};
  EXPECT_EQ(shown(count, some),
            "deviated -2 -2 -2 items at 30; seen 3 3 3; opens desk 1, critical panel 2; said");
  EXPECT_EQ(shown("count_limit { phase: \"set\" event: \"secured.checked\" exactly: 2 }", some),
            "deviated -1 -1 -1 items at 40; seen 3 3 3; opens desk 1, critical panel 3; said");
  EXPECT_EQ(shown("count_limit { phase: \"set\" event: \"secured.checked\" at_least: 1 }", some),
            "met 2 2 2 items at 50; seen 3 3 3; opens desk 1, critical panel 3, closes desk 2; "
            "said");
  EXPECT_EQ(shown(count, {{10, "desk", scene(true)}, {50, "desk", scene(false)}}),
            "met 1 1 1 items at 50; seen 0 0 0; opens desk 1, closes desk 2; said");
  const std::string evidence =
      "evidence_present { item: \"secured.checked\" at_least: 2 before: \"arrived\" }";
  EXPECT_EQ(shown(evidence, {{10, "panel", kChecked}, {60, "desk", kArrived}}),
            "deviated -1 -1 -1 items at 60; seen 1 1 1; closes desk 1, critical panel 1; measured");
  // The items tell how it is known. Four lines are enough.
  Said many{{10, "panel", kChecked},
            {20, "panel", kChecked},
            {30, "panel", kChecked},
            {60, "desk", kArrived}};
  EXPECT_EQ(shown(evidence, many),
            "met 1 1 1 items at 60; seen 3 3 3; closes desk 1, critical panel 1, critical panel 2, "
            "critical panel 3; measured");
  many.insert(many.begin() + 3, {40, "panel", kChecked});
  EXPECT_EQ(shown(evidence, many),
            "met 2 2 2 items at 60; seen 4 4 4; closes desk 1, critical panel 1, critical panel 2, "
            "critical panel 3; measured");
}

// A reading a second, the tag's number its second.
Said readings(double mps, int worst, double worst_mps, const char* by = "gps.tag") {
  Said words{{10.5, "desk", scene(true)}, {30.5, "desk", scene(false)}};
  for (int i = 1; i < 40; ++i) words.push_back({i + 0.0, by, speed(i == worst ? worst_mps : mps)});
  return words;
}

TEST(Shown, OfMeasures) {
  const auto limit = [](const std::string& more) {
    return "limit_in_phase { phase: \"set\" quantity: \"vehicle.speed\" at_most: \"3 m/s\" "
           "longest_gap: \"3 s\"" +
           more + " }";
  };
  EXPECT_EQ(shown(limit(""), readings(1, 20, 2)),
            "met 1 1 1 m/s at 20; seen 2 2 2; opens desk 1, critical gps.tag 20; measured");
  // The first of the readings that are as far.
  EXPECT_EQ(shown(limit(""), readings(1, 0, 0)),
            "met 2 2 2 m/s at 10.5; seen 1 1 1; opens desk 1, critical gps.tag 10; measured");
  // No reading at all.
  EXPECT_EQ(shown(limit(""), {{10, "desk", scene(true)}, {30, "desk", scene(false)}}),
            "unproven(no_data) - - - m/s at 10; seen - - -; opens desk 1; measured");
  EXPECT_EQ(shown("total_in_phase { phase: \"set\" quantity: \"truck.driven\" per: JOB at_most: "
                  "\"50 m\" }",
                  readings(1, 0, 0, "gps.truck")),
            "met 30 30 30 m at 30.5; seen 20 20 20; opens desk 1, critical gps.truck 30, closes "
            "desk 2; measured");
}

TEST(Shown, OfSourcesBesideEachOther) {
  const std::string both =
      "sources_agree { phase: \"set\" quantity: \"vehicle.speed\" with: \"truck.speed\" within: "
      "\"3 m/s\" }";
  const auto with = [](int from, int to, double mps) {
    Said words = readings(1, 20, 2);
    for (int i = from; i < to; ++i) words.push_back({i + 0.0, "gps.truck", speed(mps)});
    return words;
  };
  EXPECT_EQ(shown(both, with(1, 40, 0)),
            "met 1 1 1 m/s at 20; seen - 2 -; opens desk 1, critical gps.tag 20, critical "
            "gps.truck 20; measured");
  EXPECT_EQ(shown(both, with(1, 40, 1)),
            "met 2 2 2 m/s at 20; seen - 1 -; opens desk 1, critical gps.tag 20, critical "
            "gps.truck 20; measured");
  // All alike: the first, from the opening on.
  Said alike = readings(1, 0, 0);
  for (int i = 1; i < 40; ++i) alike.push_back({i + 0.0, "gps.truck", speed(2)});
  EXPECT_EQ(shown(both, alike),
            "met 2 2 2 m/s at 10.5; seen - 1 -; opens desk 1, critical gps.tag 10, critical "
            "gps.truck 10; measured");
  EXPECT_EQ(shown(both, readings(1, 0, 0)),
            "unproven(no_data) - - - m/s at 10.5; seen - - -; opens desk 1; measured");
  // The first readings of both count, too.
  Said first{{5, "desk", scene(true)}, {30, "desk", scene(false)}};
  for (int i = 5; i < 40; ++i) {
    first.push_back({i + 0.0, "gps.tag", speed(1)});
    first.push_back({i + 0.0, "gps.truck", speed(i == 5 ? 3 : 1)});
  }
  EXPECT_EQ(shown(both, first),
            "met 1 1 1 m/s at 5; seen - 2 -; opens desk 1, critical gps.tag 1, critical gps.truck "
            "1; measured");
  const std::string claim =
      "sources_agree { phase: \"job\" claim: \"scene.set.on\" with: \"drive.ready.on\" within: "
      "\"10 s\" }";
  EXPECT_EQ(shown(claim, {{1, "panel", R"("driveReady":{"confirmed":false})"},
                          {10, "panel", kReady},
                          {13, "panel", R"("driveReady":{"confirmed":false})"},
                          {16, "desk", scene(true)},
                          {20, "panel", kReady}}),
            "met 6 6 6 s at 16; seen - - -; opens desk 1, critical panel 4; said");
  // As near before as after: the first.
  EXPECT_EQ(shown(claim, {{1, "panel", R"("driveReady":{"confirmed":false})"},
                          {10, "panel", kReady},
                          {13, "panel", R"("driveReady":{"confirmed":false})"},
                          {15, "desk", scene(true)},
                          {20, "panel", kReady}}),
            "met 5 5 5 s at 15; seen - - -; opens desk 1, critical panel 2; said");
  EXPECT_EQ(shown(claim,
                  {{1, "panel", R"("driveReady":{"confirmed":false})"}, {16, "desk", scene(true)}}),
            "deviated - - - s at 16; seen - - -; opens desk 1; said");
}

// A clamp is said to be off at `claimed`; the volts, a reading a second up to `to`, fall at
// `falls`.
std::string with_volts(double claimed, int falls, int to) {
  const auto clamp = [](bool on) {
    return fmt::format(
        R"("clamp":{{"lead":"NEGATIVE","on":{},"at":"VEHICLE","point":"TERMINALS"}})", on);
  };
  Said words{{0.4, "desk", clamp(true)}, {claimed, "desk", clamp(false)}};
  for (int i = 1; i <= to; ++i)
    words.push_back(
        {i + 0.0, "clamp",
         fmt::format(R"("sample":{{"signal":"clamp.volts","value":{}}})", i < falls ? 12.6 : 9.8)});
  return judged(
      "sources_agree { phase: \"job\" claim: \"clamp.negative.off\" with: \"clamp.volts\" within: "
      "\"3 s\" }",
      words);
}

TEST(Shown, AFallBetweenTheFirstTwoReadingsOrTheLast) {
  EXPECT_EQ(with_volts(2.2, 2, 40).substr(0, 11), "met 2.8 2.8");
  EXPECT_EQ(with_volts(20.2, 21, 21).substr(0, 11), "met 2.2 2.2");
}

// Where the truck is: so many metres further north, by a fix of that mode.
std::string place(double metres, int mode = 3) {
  return fmt::format(
      R"("fix":{{"latDeg":{:.9f},"lonDeg":-30,"hSdM":0.1,"mode":{},"speedMps":0,"speedSdMps":0.1}})",
      44.5 + metres / 111'194.9, mode);
}

// Checked at one instant, arrived at another, within 10 m of there.
std::string near(double checked, double arrived, const Said& places) {
  Said words{{checked, "desk", kChecked}, {arrived, "desk", kArrived}};
  words.insert(words.end(), places.begin(), places.end());
  return judged(
      "evidence_present { item: \"secured.checked\" at_least: 1 before: \"arrived\" radius: "
      "\"10 m\" }",
      words);
}

TEST(Shown, EvidenceIsNearByTheLastFixOfTenSeconds) {
  constexpr const char *met = "met 0 0 0 items", *open = "unproven(no_data) -1 -1 0 items";
  const Said once{{15, "gps.truck", place(0)}};
  EXPECT_EQ(near(15 - kMicro, 20, once), open);
  EXPECT_EQ(near(15, 20, once), met);
  EXPECT_EQ(near(20, 25, once), met);
  EXPECT_EQ(near(20, 25 + kMicro, once), open);
  EXPECT_EQ(near(20, 22, {{15, "gps.truck", place(0, 2)}}), met);
  EXPECT_EQ(near(20, 22, {{15, "gps.truck", place(0, 1)}}), open);
  const Said moved{{15, "gps.truck", place(0)}, {20, "gps.truck", place(30)}};
  EXPECT_EQ(near(20, 24, moved), met);
  EXPECT_EQ(near(20 - kMicro, 24, moved), "deviated -1 -1 -1 items");
}

// A phase that opens in the instant in which a visit begins is opened by its own word.
TEST(Shown, AVisitAndItsPhaseBegunAtOneInstant) {
  Said words{{1, "mover", truck_moving(false)},
             {40, "mover", truck_moving(true)},
             {100, "mover", truck_moving(false)},
             {100, "desk", scene(true)},
             {110, "desk", scene(false)}};
  for (int i = 1; i < 150; ++i) words.push_back({i + 0.0, "gps.truck", speed(2)});
  const std::string text = shown(
      "total_in_phase { phase: \"set\" quantity: \"truck.driven\" per: VISIT at_most: \"100 m\" }",
      words);
  EXPECT_NE(text.find("opens desk 1"), std::string::npos) << text;
  EXPECT_EQ(text.find("mover"), std::string::npos) << text;
}

// The truck is said to move while its receiver says it stands: no way, at no speed.
TEST(Shown, MovedClearByNothing) {
  Said words{{1, "mover", truck_moving(false)},
             {5, "desk", scene(true)},
             {20, "mover", truck_moving(true)},
             {44, "mover", truck_moving(false)},
             {70, "desk", scene(false)}};
  for (int i = 1; i < 80; ++i) words.push_back({i + 0.0, "gps.truck", speed(0)});
  const Finding found = judged_form(
      "never_together { state: \"scene.set\" with: \"truck.moving\" tolerate: \"5 s\" "
      "move_clear: \"60 m under 3 m/s\" }",
      lines_of(words), kSet);
  EXPECT_EQ(told(found), "no");
  EXPECT_NE(found.sentence.find("moved clear: 0 m at up to 0 km/h, within 60 m under 3 m/s"),
            std::string::npos)
      << found.sentence;
}

}  // namespace
}  // namespace fairlead::judge
