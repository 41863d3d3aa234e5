// Every rule form with its limit just missed, just reached and just passed: by a microsecond, a
// millimetre a second, a millimetre, a gram. `under` excludes the limit, everything else includes
// it; a phase has its first instant and not its last; a count's window has both.
#include <gtest/gtest.h>

#include <functional>
#include <optional>

#include "tests/unit/judge/word_lines.h"

namespace fairlead::judge {
namespace {

// The job for one step below, at and above.
struct Row {
  const char* what;
  std::string form;
  std::function<Said(double)> words;
  const char *below, *at, *above;
};

// A microsecond is rounded outward to four places where that does not make it nothing.
constexpr const char *kLess = "deviated -0.0001 -0.000001 -0.000001 s", *kNone = "met 0 0 0 s",
                     *kMore = "met 0.000001 0.000001 0.0001 s";

void expect_rows(const std::vector<Row>& rows, double step) {
  for (const Row& row : rows) {
    EXPECT_EQ(judged(row.form, row.words(-step)), row.below) << row.what << ", below";
    EXPECT_EQ(judged(row.form, row.words(0)), row.at) << row.what << ", at the limit";
    EXPECT_EQ(judged(row.form, row.words(step)), row.above) << row.what << ", above";
  }
}

TEST(LimitsReached, OfOrdersAndWaits) {
  const auto ten_apart = [](double off) {
    return Said{{10, "desk", kArrived}, {20 + off, "panel", kChecked}};
  };
  const auto set_ten = [](double off) {
    return Said{{10, "desk", scene(true)}, {20 + off, "panel", kChecked}};
  };
  const auto first_at_twenty = [](double off) {
    return Said{{20 + off, "desk", kArrived}, {20, "panel", kChecked}};
  };
  const auto set_at_twenty = [](double off) {
    return Said{{20 + off, "desk", scene(true)}, {20, "panel", kChecked}};
  };
  expect_rows(
      {{"a momentary first", "comes_first { first: \"arrived\" then: \"secured.checked\" }",
        first_at_twenty, kMore, kNone, kLess},
       {"a first in force", "comes_first { first: \"scene.set.on\" then: \"secured.checked\" }",
        set_at_twenty, kMore, kNone, kLess},
       {"a first ever",
        "comes_first { first: \"scene.set.on\" then: \"secured.checked\" ever: true }",
        set_at_twenty, kMore, kNone, kLess},
       {"a gap", "comes_first { first: \"arrived\" then: \"secured.checked\" min_gap: \"10 s\" }",
        ten_apart, kLess, kNone, kMore},
       {"a gap in force",
        "comes_first { first: \"scene.set.on\" then: \"secured.checked\" min_gap: \"10 s\" }",
        set_ten, kLess, kNone, kMore},
       {"an answer",
        "follows_within { after: \"arrived\" then: \"secured.checked\" within: "
        "\"10 s\" }",
        ten_apart, kMore, kNone, kLess},
       {"a wait", "wait_between { from: \"arrived\" to: \"secured.checked\" at_least: \"10 s\" }",
        ten_apart, kLess, kNone, kMore},
       {"a wait in force",
        "wait_between { from: \"scene.set.on\" to: \"secured.checked\" at_least: \"10 s\" }",
        set_ten, kLess, kNone, kMore},
       {"a longest wait",
        "wait_between { from: \"arrived\" to: \"secured.checked\" at_most: \"10 s\" }", ten_apart,
        kMore, kNone, kLess},
       {"a longest wait in force",
        "wait_between { from: \"scene.set.on\" to: \"secured.checked\" at_most: \"10 s\" }",
        set_ten, kMore, kNone, kLess}},
      kMicro);
}

TEST(LimitsReached, OfStays) {
  const std::string until = "stays_until { state: \"scene.set\" until: \"screen.awake.on\" ";
  const auto awake = [](double off) {
    return Said{
        {5, "panel", screen(false)}, {10, "desk", scene(true)}, {60 + off, "panel", screen(true)}};
  };
  expect_rows(
      {{"lost just then", until + "}",
        [](double off) {
          return Said{{5, "panel", screen(false)},
                      {10, "desk", scene(true)},
                      {60 + off, "desk", scene(false)},
                      {60, "panel", screen(true)}};
        },
        kLess, kNone, kMore},
       {"at least", until + "at_least: \"50 s\" }", awake, kLess, kNone, kMore},
       {"at most", until + "at_most: \"50 s\" }", awake, kMore, kNone, kLess},
       {"a dip", until + "bridge: \"5 s\" }",
        [](double off) {
          return Said{{5, "panel", screen(false)},
                      {10, "desk", scene(true)},
                      {30, "desk", scene(false)},
                      {35 + off, "desk", scene(true)},
                      {60, "panel", screen(true)}};
        },
        "met 140 140 - s", "met 140 140 - s", "deviated -30 -30 -30 s"},
       {"together",
        "never_together { state: \"scene.set\" with: \"screen.awake\" tolerate: "
        "\"50 s\" }",
        [](double off) {
          return Said{{10, "panel", screen(true)},
                      {10, "desk", scene(true)},
                      {60 + off, "desk", scene(false)}};
        },
        kMore, kNone, kLess},
       {"a check",
        "recheck_every { phase: \"set\" check: \"secured.checked\" time: \"50 s\" "
        "parked_counts: true }",
        [](double off) {
          return Said{
              {10, "desk", scene(true)}, {60 + off, "panel", kChecked}, {90, "desk", scene(false)}};
        },
        kMore, kNone, kLess},
       {"a first check",
        "recheck_every { phase: \"set\" check: \"secured.checked\" time: \"100 s\" first_time: "
        "\"50 s\" parked_counts: true }",
        [](double off) {
          return Said{
              {10, "desk", scene(true)}, {60 + off, "panel", kChecked}, {90, "desk", scene(false)}};
        },
        kMore, kNone, kLess},
       {"a last leg",
        "recheck_every { phase: \"set\" check: \"secured.checked\" time: \"50 s\" parked_counts: "
        "true }",
        [](double off) {
          return Said{
              {10, "desk", scene(true)}, {40, "panel", kChecked}, {90 + off, "desk", scene(false)}};
        },
        kMore, kNone, kLess}},
      kMicro);
}

TEST(LimitsReached, OfCounts) {
  constexpr const char *none = "deviated -1 -1 -1 items", *one = "met 0 0 0 items";
  const std::string count = "count_limit { phase: \"set\" event: \"secured.checked\" at_least: 1 }";
  const std::string item = "evidence_present { item: \"secured.checked\" at_least: 1 ";
  const auto check_at = [](double second) {
    return Said{{10, "desk", scene(true)},
                {second, "panel", kChecked},
                {60, "desk", scene(false)},
                {70, "panel", kHere}};
  };
  expect_rows(
      {{"a phase's first instant", count, [&](double off) { return check_at(10 + off); }, none, one,
        one},
       {"a phase's last", count, [&](double off) { return check_at(60 + off); }, one, none, none},
       {"an anchor", item + "before: \"scene.set.off\" }",
        [&](double off) { return check_at(60 + off); }, one, one, none},
       {"the other side", item + "after: \"scene.set.on\" }",
        [&](double off) { return check_at(10 + off); }, none, one, one},
       {"a window before", item + "before: \"scene.set.off\" window: \"30 s\" }",
        [&](double off) { return check_at(30 + off); }, none, one, one},
       {"a window after", item + "after: \"scene.set.on\" window: \"30 s\" }",
        [&](double off) { return check_at(40 + off); }, one, one, none}},
      kMicro);
}

TEST(LimitsReached, OfWhatAnotherSourceConfirms) {
  const std::string both =
      "sources_agree { phase: \"job\" claim: \"scene.set.on\" with: \"screen.awake.on\" within: "
      "\"3 s\" }";
  const auto awake = [](const char* by, double second) {
    return Said{{5, by, screen(false)}, {second, by, screen(true)}, {20, "desk", scene(true)}};
  };
  const auto after = [&](const char* by) {
    return [=](double off) { return awake(by, 23 + off); };
  };
  const auto before = [&](const char* by) {
    return [=](double off) { return awake(by, 17 + off); };
  };
  // Of two words nobody's stands; an instrument's does.
  constexpr const char* apart = "unproven(sources_disagree) -0.0001 -0.000001 - s";
  expect_rows({{"after it", both, after("operator"), kMore, kNone, apart},
               {"before it", both, before("operator"), apart, kNone, kMore},
               {"an instrument after it", both, after("panel"), kMore, kNone, kLess},
               {"an instrument before it", both, before("panel"), kLess, kNone, kMore}},
              kMicro);
}

// One reading a second of each receiver, without noise.
Said speeds(std::optional<double> tag, std::optional<double> truck) {
  Said words{{10, "desk", scene(true)}, {30, "desk", scene(false)}};
  for (int i = 5; i < 40; ++i) {
    if (tag) words.push_back({i + 0.0, "gps.tag", speed(*tag)});
    if (truck) words.push_back({i + 0.0, "gps.truck", speed(*truck)});
  }
  return words;
}

TEST(LimitsReached, OfReadings) {
  const auto limit = [](const std::string& bound, const std::string& more) {
    return "limit_in_phase { phase: \"set\" quantity: \"vehicle.speed\" " + bound +
           ": \"2 m/s\" longest_gap: \"3 s\"" + more + " }";
  };
  const auto tag = [](double off) { return speeds(2 + off, std::nullopt); };
  constexpr const char *less = "deviated -0.001 -0.001 -0.001 m/s", *none = "met 0 0 0 m/s",
                       *more = "met 0.001 0.001 0.001 m/s";
  for (const std::string sustained : {"", " sustained: \"2 s\""}) {
    expect_rows({{"under", limit("under", sustained), tag, more, "deviated 0 0 0 m/s", less},
                 {"at most", limit("at_most", sustained), tag, more, none, less},
                 {"at least", limit("at_least", sustained), tag, less, none, more}},
                0.001);
  }
  const std::string agree =
      "sources_agree { phase: \"set\" quantity: \"vehicle.speed\" with: \"truck.speed\" within: "
      "\"1 m/s\" }";
  constexpr const char* apart = "unproven(sources_disagree) -0.001 -0.001 - m/s";
  expect_rows(
      {{"the one faster", agree, [](double off) { return speeds(4 + off, 3); }, more, none, apart},
       {"the other faster", agree, [](double off) { return speeds(2, 3 + off); }, more, none,
        apart}},
      0.001);
}

TEST(LimitsReached, OfWays) {
  // 3 m/s for 20 s.
  const Said words = speeds(std::nullopt, 3);
  const auto total = [&](const std::string& bound) {
    return judged(
        "total_in_phase { phase: \"set\" quantity: \"truck.driven\" per: JOB " + bound + " }",
        words);
  };
  EXPECT_EQ(total("under: \"60.001 m\""), "met 0.001 0.001 0.001 m");
  EXPECT_EQ(total("under: \"60 m\""), "deviated 0 0 0 m");
  EXPECT_EQ(total("under: \"59.999 m\""), "deviated -0.001 -0.001 -0.001 m");
  EXPECT_EQ(total("at_most: \"60 m\""), "met 0 0 0 m");
  EXPECT_EQ(total("at_most: \"59.999 m\""), "deviated -0.001 -0.001 -0.001 m");
  const auto check = [&](const std::string& limits) {
    return judged("recheck_every { phase: \"set\" check: \"secured.checked\" " + limits + " }",
                  words);
  };
  EXPECT_EQ(check("distance: \"60.001 m\""), "met 0.001 0.001 0.001 m");
  EXPECT_EQ(check("distance: \"60 m\""), "met 0 0 0 m");
  EXPECT_EQ(check("distance: \"59.999 m\""), "deviated -0.001 -0.001 -0.001 m");
  EXPECT_EQ(check("distance: \"90 m\" first_distance: \"59.999 m\""),
            "deviated -0.001 -0.001 -0.001 m");
}

// A strap of 900 kg across holds half of 1,800 kg.
TEST(LimitsReached, OfStrengthAndPieces) {
  const auto held = [](const std::string& mass, int least) {
    const std::string text =
        "id: \"t\" version: \"1\" title: \"t\"\n" + kSet + "rule { " + rule_head("r") +
        "enough_strength { phase: \"set\" of: \"tiedowns\" times_mass: \"0.5\" least_count: " +
        std::to_string(least) + " } }";
    const std::string files =
        "gear { id: \"s\" kind: WEBBING wll: \"900 kg\" in_service: \"2025-01-10\" inspect_by: "
        "\"2027-01-10\" }\nvehicle { id: \"car\" mass: \"" +
        mass + "\" }\n";
    const auto rules = Rulebook::load({{"p.textproto", text}}, {{"r.textproto", files}});
    EXPECT_TRUE(rules) << (rules ? "" : rules.error().message);
    std::string all;
    for (const Finding& found :
         judge_job(*rules, lines_of({{5, "desk",
                                      R"("tiedown":{"on":true,"gear":"s","wheel":"LF",)"
                                      R"("path":"ACROSS"})"},
                                     {10, "desk", scene(true)},
                                     {60, "desk", scene(false)}})))
      all += (all.empty() ? "" : "; ") + told(found);
    return all;
  };
  EXPECT_EQ(held("1800.002 kg", 1), "deviated -0.001 -0.001 -0.001 kg; met 0 0 0 items");
  EXPECT_EQ(held("1800 kg", 1), "met 0 0 0 kg; met 0 0 0 items");
  EXPECT_EQ(held("1799.998 kg", 2), "met 0.001 0.001 0.001 kg; deviated -1 -1 -1 items");
}

// Nothing came: over once the record reaches past the last instant at which it could have.
TEST(LimitsReached, ByNothingUpToTheEnd) {
  const std::string answer =
      "follows_within { after: \"arrived\" then: \"secured.checked\" within: \"60 s\" }";
  const Said arrived{{10, "desk", kArrived}};
  EXPECT_EQ(judged(answer, arrived, 70 - kMicro), "unproven(cut_short) - - 0.0001 s");
  EXPECT_EQ(judged(answer, arrived, 70), "unproven(cut_short) - - 0 s");
  EXPECT_EQ(judged(answer, arrived, 70 + kMicro), "deviated - - -0.000001 s");
  const auto open = [&](double last) {
    return judged(answer,
                  {{10, "desk", kArrived}, {last, "desk", kHere}, {last, "operator", kHere}}, 0);
  };
  EXPECT_EQ(open(70 - kMicro), "unproven(not_yet) - - 0.0001 s");
  EXPECT_EQ(open(70), "unproven(not_yet) - - 0 s");
  EXPECT_EQ(open(70 + kMicro), "deviated - - -0.000001 s");
}

}  // namespace
}  // namespace fairlead::judge
