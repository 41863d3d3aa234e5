// all_of and any_of: which part decides, in whichever order the parts stand. Visits of a job: a
// move of 30 s ends one.
#include <gtest/gtest.h>

#include "tests/unit/judge/word_lines.h"

namespace fairlead::judge {
namespace {

std::string set_of(const char* kind, const std::vector<std::string>& forms) {
  std::string text = std::string(kind) + " { ";
  for (size_t i = 0; i < forms.size(); ++i)
    text += "rule { id: \"" + std::string(1, static_cast<char>('a' + i)) + "\" " + forms[i] + " } ";
  return text + "}";
}

// Waits of 40 s and, by two clocks, of 35 to 45 s.
const Said kWords{{10, "desk", kArrived},
                  {50, "desk", kChecked},
                  {10, "panel", screen(false)},
                  {50, "probe", kReady}};
std::string wait(const char* bound, int seconds, const char* to = "secured.checked") {
  return std::string("wait_between { from: \"arrived\" to: \"") + to + "\" " + bound + ": \"" +
         std::to_string(seconds) + " s\" }";
}
const std::string kMetByOne = wait("at_least", 39), kMetByNine = wait("at_least", 31),
                  kOutByOne = wait("at_least", 41), kOutByNine = wait("at_least", 49),
                  kOpenByTwo = wait("at_least", 38, "drive.ready.on"),
                  kOpenByMinusTwo = wait("at_least", 42, "drive.ready.on"),
                  kNone = wait("at_least", 5, "found"),
                  kUnanswered =
                      "follows_within { after: \"arrived\" then: \"found\" within: \"10 s\" }";

std::string all(const std::vector<std::string>& forms) {
  return judged(set_of("all_of", forms), kWords);
}
std::string any(const std::vector<std::string>& forms) {
  return judged(set_of("any_of", forms), kWords);
}

void expect_both_ways(const std::string& a, const std::string& b, const char* of_all,
                      const char* of_any) {
  EXPECT_EQ(all({a, b}), of_all);
  EXPECT_EQ(all({b, a}), of_all);
  EXPECT_EQ(any({a, b}), of_any);
  EXPECT_EQ(any({b, a}), of_any);
}

TEST(Sets, TheWorstVerdictOfAllAndTheBestOfAny) {
  constexpr const char *met = "met 1 1 1 s", *out = "deviated -1 -1 -1 s",
                       *open = "unproven(clock_doubt) -3 2 7 s",
                       *less = "unproven(clock_doubt) -7 -2 3 s";
  expect_both_ways(kMetByOne, kOpenByTwo, open, met);
  expect_both_ways(kMetByOne, kOpenByMinusTwo, less, met);
  expect_both_ways(kOutByOne, kOpenByTwo, out, open);
  expect_both_ways(kOutByOne, kOpenByMinusTwo, out, less);
  expect_both_ways(kMetByOne, kOutByOne, out, met);
  expect_both_ways(kMetByOne, kNone, met, met);
  expect_both_ways(kOutByOne, kNone, out, out);
  EXPECT_EQ(all({kNone, kNone}), "no");
}

TEST(Sets, OfOneVerdictTheMargin) {
  expect_both_ways(kMetByOne, kMetByNine, "met 1 1 1 s", "met 9 9 9 s");
  expect_both_ways(kOutByOne, kOutByNine, "deviated -9 -9 -9 s", "deviated -1 -1 -1 s");
  expect_both_ways(kOpenByTwo, kOpenByMinusTwo, "unproven(clock_doubt) -7 -2 3 s",
                   "unproven(clock_doubt) -3 2 7 s");
  // What never came is out by more than any number.
  expect_both_ways(kUnanswered, wait("at_least", 240), "deviated - - -180 s",
                   "deviated -200 -200 -200 s");
}

TEST(Sets, TheirPartsAreThereToExplain) {
  const auto members = [](const char* kind, const std::string& a, const std::string& b) {
    const Finding found = judged_form(set_of(kind, {a, b}), lines_of(kWords), kSet);
    std::string text;
    for (const Finding& one : found.members) text += one.rule + " " + told(one) + "; ";
    return text;
  };
  EXPECT_EQ(members("all_of", kMetByOne, kOutByOne), "a met 1 1 1 s; b deviated -1 -1 -1 s; ");
  EXPECT_EQ(members("any_of", kMetByOne, kOutByOne), "a met 1 1 1 s; b deviated -1 -1 -1 s; ");
  EXPECT_EQ(members("any_of", kNone, kNone), "a no; b no; ");
}

// Free-driving words: the truck moves from `on` to `off`.
Said moved(double on, double off, double end_on = 0) {
  Said words{{1, "mover", truck_moving(false)},   {on, "mover", truck_moving(true)},
             {off, "mover", truck_moving(false)}, {5, "desk", scene(true)},
             {15, "desk", scene(false)},          {100, "desk", scene(true)},
             {110, "desk", scene(false)}};
  if (end_on > 0) words.push_back({end_on, "mover", truck_moving(true)});
  for (int i = 1; i < 150; ++i) words.push_back({i + 0.0, "gps.truck", speed(2)});
  return words;
}

std::string way(const char* per, const Said& words) {
  return judged(std::string("total_in_phase { phase: \"set\" quantity: \"truck.driven\" per: ") +
                    per + " at_most: \"100 m\" }",
                words);
}

TEST(Visits, EndWithAMoveOfThirtySeconds) {
  // 20 m in each stay.
  EXPECT_EQ(way("JOB", moved(40, 70)), "met 60 60 60 m");
  EXPECT_EQ(way("VISIT", moved(40, 70)), "met 80 80 80 m");
  EXPECT_EQ(way("VISIT", moved(40, 70 - kMicro)), "met 60 60 60 m");
  EXPECT_EQ(way("VISIT", moved(40, 70 + kMicro)), "met 80 80 80 m");
  // One that goes on to the end ends the last one; what comes after it is no visit's.
  EXPECT_EQ(way("VISIT", moved(30, 40, 120)), "met 60 60 60 m");
  EXPECT_EQ(way("VISIT", moved(30, 40, 90)), "met 80 80 80 m");
}

}  // namespace
}  // namespace fairlead::judge
