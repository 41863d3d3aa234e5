// Gear out of date, out of service or with a voiding defect never counts, and the finding says so.
// Credits as in 49 CFR 393.106(d); what voids a piece: daemon/physics/securement_defects.h.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "daemon/base/time_text.h"
#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

// A car of exactly 4,000 kg needs 2,000 kg; four straps SAME_SIDE of 1,000 kg give just that.
std::string gear(const std::string& id, const std::string& more) {
  return fmt::format("gear {{ id: \"{}\" kind: WEBBING width: \"50 mm\" {} }}\n", id, more);
}
const std::string kSound = R"(wll: "1000 kg" in_service: "2025-01-10" inspect_by: "2027-01-10")";

Rulebook book(const std::string& last_strap, const std::string& anchor,
              const std::string& warn_at = "") {
  const std::string rule =
      "id: \"test\" version: \"1\" title: \"test\"\n"
      "phase { id: \"driving\" opens: \"truck.moving.on\" closes: \"truck.moving.off\" "
      "longest: \"4 h\" }\n"
      "rule { " +
      rule_head("strong") + warn_at +
      "enough_strength { phase: \"driving\" of: \"tiedowns\" times_mass: \"0.5\" least_count: 4 } "
      "}";
  const std::string text = "vehicle { id: \"car\" mass: \"4000 kg\" }\n" + gear("s1", kSound) +
                           gear("s2", kSound) + gear("s3", kSound) + gear("s4", last_strap) +
                           "gear { id: \"a4\" kind: ANCHOR " + anchor + " }\n";
  auto loaded = Rulebook::load({{"test.textproto", rule}}, {{"r.textproto", text}});
  EXPECT_TRUE(loaded) << (loaded ? "" : loaded.error().message);
  return *loaded;
}

// A drive under four straps.
Lines driven(double drive_end) {
  Lines lines{opened_line()};
  const char* wheels[] = {"LF", "RF", "LR", "RR"};
  for (uint32_t i = 0; i < 4; ++i) {
    const std::string on_anchor = i == 3 ? R"(,"anchorGear":"a4")" : "";
    lines.push_back(line_at(10 + i, "operator", 2 + i,
                            fmt::format(R"("tiedown":{{"on":true,"gear":"s{}","wheel":"{}",)"
                                        R"("path":"SAME_SIDE"{}}})",
                                        i + 1, wheels[i], on_anchor)));
  }
  lines.push_back(line_at(60, "operator", 6, R"("truckMotion":{"moving":true})"));
  lines.push_back(line_at(drive_end, "operator", 7, R"("truckMotion":{"moving":false})"));
  lines.push_back(closed_line(drive_end + 100, 8));
  return lines;
}

// Its strength and count, the last strap as the register says.
std::vector<Finding> judged(const std::string& last_strap,
                            const std::string& anchor = R"(wll: "5000 kg")",
                            double drive_end = 600) {
  return judge_job(book(last_strap, anchor), driven(drive_end));
}

struct Expected {
  Verdict strength, count;
  std::string words;  // In the sentence of the strength.
};
void expect(const std::vector<Finding>& found, const Expected& expected) {
  ASSERT_EQ(found.size(), 2u);
  EXPECT_EQ(found[0].verdict, expected.strength) << found[0].sentence;
  EXPECT_EQ(found[1].verdict, expected.count) << found[1].sentence;
  EXPECT_NE(found[0].sentence.find(expected.words), std::string::npos) << found[0].sentence;
}

TEST(GearCounting, SoundGearCounts) {
  expect(judged(kSound), {Verdict::kMet, Verdict::kMet, ""});
  expect(judged(kSound + R"( defect: "cut 8 mm")"), {Verdict::kMet, Verdict::kMet, ""});
  EXPECT_EQ(judged(kSound)[0].sentence.find("does not count"), std::string::npos);
}

TEST(GearCounting, TheLimitIsShownAsWritten) {
  EXPECT_EQ(judged(kSound)[0].limit, "at least 0.5 x mass");
  EXPECT_EQ(judged(kSound)[1].limit, "at least 4");
}

// 2,000 kg wanted; warned while it is more than 80 % of what the straps hold. Four of four pieces
// are near, too.
TEST(GearCounting, StrengthNearTheLimitIsWarnedOf) {
  const auto warned = [](const std::string& last_strap) {
    return live_warnings(book(last_strap, R"(wll: "9000 kg")", "warn_at: \"80 %\" "), driven(600),
                         *parse_time_us("2026-03-02T10:05:00Z"));
  };
  const auto far = warned(R"(wll: "3000 kg")");  // 3,000 kg: 67 %.
  ASSERT_EQ(far.size(), 1u);
  EXPECT_EQ(far[0].rule, "strong.count");
  const auto near = warned(R"(wll: "1400 kg")");  // 2,200 kg: 91 %.
  ASSERT_EQ(near.size(), 2u);
  EXPECT_FALSE(near[0].deviated);
  EXPECT_EQ(near[0].words, "strong: 2200 kg, limit at least 0.5 x mass");
}

// The job is on 2026-03-02.
TEST(GearCounting, OutOfDateAndOutOfServiceNeverCount) {
  expect(judged(R"(wll: "1000 kg" inspect_by: "2026-03-01")"),
         {Verdict::kDeviated, Verdict::kDeviated,
          "gear 's4' does not count: its inspection was due by 2026-03-01"});
  expect(judged(R"(wll: "1000 kg" inspect_by: "2026-03-02")"), {Verdict::kMet, Verdict::kMet, ""});
  expect(judged(R"(wll: "1000 kg" in_service: "2026-03-03")"),
         {Verdict::kDeviated, Verdict::kDeviated,
          "gear 's4' does not count: it was not in service before 2026-03-03"});
  expect(judged(R"(wll: "1000 kg" out_of_service: "2026-03-02")"),
         {Verdict::kDeviated, Verdict::kDeviated,
          "gear 's4' does not count: it was out of service from 2026-03-02"});
}

// Past midnight the strap's date is behind it; before, it was not.
TEST(GearCounting, DatesThatRunOutOnTheRoad) {
  const std::string last_day = R"(wll: "1000 kg" inspect_by: "2026-03-02")";
  const double until_midnight = 14.0 * 3600;
  expect(judged(last_day, R"(wll: "5000 kg")", until_midnight - 60),
         {Verdict::kMet, Verdict::kMet, ""});
  expect(judged(last_day, R"(wll: "5000 kg")", until_midnight + 60),
         {Verdict::kDeviated, Verdict::kDeviated, "its inspection was due by 2026-03-02"});
}

// Knots: 393.104(f)(1). 12 mm is past the 3/8 in (9.5 mm) of webbing 2 in wide.
TEST(GearCounting, VoidingDefectsNeverCount) {
  expect(judged(kSound + R"( defect: "knot")"),
         {Verdict::kDeviated, Verdict::kDeviated, "393.104(f)(1)"});
  expect(judged(kSound + R"( defect: "cut 12 mm")"),
         {Verdict::kDeviated, Verdict::kDeviated, "'cut 12 mm'"});
  EXPECT_EQ(judged(kSound + R"( defect: "knot")")[0].margin_best, "-500");
}

TEST(GearCounting, DefectsNobodyCanPlaceAreUnproven) {
  expect(judged(kSound + R"( defect: "scuffed")"),
         {Verdict::kUnproven, Verdict::kUnproven, "gear 's4' may not count"});
  expect(judged(kSound + R"( defect: "cut")"),
         {Verdict::kUnproven, Verdict::kUnproven, "without its size"});
}

TEST(GearCounting, WhatHangsOnAVoidAnchorDoesNotCount) {
  expect(judged(kSound, R"(wll: "5000 kg" inspect_by: "2026-03-01")"),
         {Verdict::kDeviated, Verdict::kDeviated, "gear 'a4' does not count"});
  expect(judged(kSound, R"(wll: "5000 kg" defect: "crack")"),
         {Verdict::kDeviated, Verdict::kDeviated, "393.104(b)"});
  expect(judged(kSound, R"(wll: "5000 kg" defect: "rusty")"),
         {Verdict::kUnproven, Verdict::kUnproven, "gear 'a4' may not count"});
}

// A line held by a soft shackle out of date is rated 0: any pull is too much, and the finding says
// why.
TEST(GearCounting, GearInTheLine) {
  const std::string rule =
      "id: \"test\" version: \"1\" title: \"test\"\n"
      "phase { id: \"pulling\" opens: \"line.pulling.on\" closes: \"line.pulling.off\" "
      "longest: \"10 min\" }\n"
      "rule { " +
      rule_head("line") +
      "limit_in_phase { phase: \"pulling\" quantity: \"line.pull\" at_most: \"line.rating\" "
      "sustained: \"1 s\" longest_gap: \"5 s\" } }";
  const auto expect_line = [&](const std::string& soft, Verdict verdict, const std::string& words) {
    const std::string text =
        "vehicle { id: \"car\" mass: \"4000 kg\" }\n"
        "truck { id: \"truck-1\" winch { line_rating: \"17.8 kN\" } }\n"
        "gear { id: \"soft\" kind: SOFT_SHACKLE wll: \"3000 kg\" " +
        soft + " }\n";
    auto loaded = Rulebook::load({{"test.textproto", rule}}, {{"r.textproto", text}});
    EXPECT_TRUE(loaded) << (loaded ? "" : loaded.error().message);
    Lines lines{opened_line(),
                line_at(5, "operator", 2,
                        R"("rigging":{"on":true,"point":"eye","gear":["soft"],"legsAngleDeg":0})"),
                closed_line(60, 3)};
    for (uint32_t i = 0; i < 54; ++i)
      lines.push_back(line_at(6 + i, "line", 1 + i,
                              fmt::format(R"("sample":{{"signal":"line.pull","value":{}}})",
                                          i >= 4 && i < 30 ? 6000 : 0)));
    lines.push_back(line_at(59.9, "line", 55, R"("alive":{})"));
    const auto found = judge_job(*loaded, lines);
    EXPECT_EQ(found.size(), 1u);
    EXPECT_NE(found.at(0).sentence.find(words), std::string::npos) << found.at(0).sentence;
    SCOPED_TRACE(found.at(0).sentence);
    EXPECT_EQ(found.at(0).verdict, verdict);
  };
  expect_line("", Verdict::kMet, "limit at most line.rating (17.8 kN)");
  expect_line(R"(inspect_by: "2026-03-01")", Verdict::kDeviated, "gear 'soft' does not count");
  expect_line(R"(defect: "melted")", Verdict::kDeviated, "melted");
  expect_line(R"(defect: "faded")", Verdict::kUnproven, "gear 'soft' may not count");
}

}  // namespace
}  // namespace fairlead::judge
