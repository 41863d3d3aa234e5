// sources_agree, total_in_phase and sets of rules: each verdict, each reason for unproven, a gap at
// each place, any order of arrival, the sentence. rolls_freely on ice.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

using Words = std::vector<std::string>;

v1::Observation op(double second, uint32_t seq, const std::string& kind) {
  return line_at(second, "operator", seq, kind);
}
v1::Observation negative(double second, uint32_t seq, bool on) {
  return op(second, seq,
            fmt::format(
                R"("clamp":{{"lead":"NEGATIVE","on":{},"at":"VEHICLE","point":"TERMINALS"}})", on));
}
v1::Observation note(double second, uint32_t seq) {
  return op(second, seq, R"("note":{"text":"nothing"})");
}
v1::Observation mode(double second, uint32_t seq, const std::string& word) {
  return op(second, seq, fmt::format(R"("vehicleMode":{{"mode":"{}"}})", word));
}
v1::Observation sample(double second, const std::string& source, uint32_t seq,
                       const std::string& signal, double value) {
  return line_at(second, source, seq,
                 fmt::format(R"("sample":{{"signal":"{}","value":{}}})", signal, value));
}

const std::string kClaim =
    "sources_agree { phase: \"job\" claim: \"clamp.negative.off\" with: \"clamp.volts\" within: "
    "\"3 s\" }";

// The negative clamp is said to be off at 20.2 s; the volts fall at `falls`.
Lines claimed(double falls, int from = 1, int to = 40) {
  Lines lines{opened_line(), negative(5, 2, true), negative(20.2, 3, false), closed_line(40, 4)};
  uint32_t seq = 0;
  for (int second = from; second < to; ++second)
    lines.push_back(sample(second, "clamp", ++seq, "clamp.volts", second < falls ? 12.6 : 9.8));
  return lines;
}

TEST(SourcesAgree, EachVerdict) {
  const Finding met = judged_form(kClaim, claimed(22));
  EXPECT_EQ(told(met), "met 1.2 1.2 1.2 s");  // 3 - 1.8
  EXPECT_EQ(sentence_of(met),
            "r met: clamp.volts beside clamp.negative.off, claimed at 10:00:20, limit within 3 s, "
            "1.2 s inside; said; record: operator #3, clamp #22; settled");
  EXPECT_EQ(told(judged_form(kClaim, claimed(30))), "deviated -6.8 -6.8 -6.8 s");
  EXPECT_EQ(told(judged_form(kClaim, claimed(99))), "deviated - - - s");
  EXPECT_EQ(told(judged_form(kClaim, {opened_line(), note(5, 2), closed_line(40, 3)})), "no");
}

TEST(SourcesAgree, EachReason) {
  EXPECT_EQ(told(judged_form(kClaim, {opened_line(), negative(5, 2, true), negative(20.2, 3, false),
                                      closed_line(40, 4)})),
            "unproven(no_data) - - - s");
  // The voltmeter ends 5 s before the claim (each reading holds 2 s).
  EXPECT_EQ(told(judged_form(kClaim, claimed(99, 1, 16))), "unproven(cut_short) - - 3 s");
  Lines open = claimed(99, 1, 22);
  open.erase(open.begin() + 3);
  EXPECT_EQ(told(judged_form(kClaim, open)), "unproven(not_yet) - - 3 s");
  // Two receivers 2 m/s apart, 1 m/s allowed, u = 1.645 sqrt(0.1^2 + 0.05^2) = 0.184: neither
  // accuses.
  const std::string same =
      "sources_agree { phase: \"rolling\" quantity: \"vehicle.speed\" with: \"truck.speed\" "
      "within: \"1 m/s\" }";
  Lines lines{opened_line(), mode(5, 2, "ROLLING"), mode(15, 3, "PARKED"), closed_line(20, 4)};
  for (uint32_t second = 1; second < 20; ++second) {
    lines.push_back(speed_line(second, second, 2.0, 0.1));
    v1::Observation truck = speed_line(second, second, 0.0, 0.05);
    truck.set_source("gps.truck");
    lines.push_back(truck);
  }
  EXPECT_EQ(told(judged_form(same, lines)), "unproven(sources_disagree) -1.184 -1 - m/s");
  const std::string loose =
      "sources_agree { phase: \"rolling\" quantity: \"vehicle.speed\" with: \"truck.speed\" "
      "within: \"2.1 m/s\" }";
  EXPECT_EQ(told(judged_form(loose, lines)), "unproven(too_close) -0.084 0.1 0.284 m/s");
}

TEST(SourcesAgree, ByTwoClocks) {
  // The fall 1.8 s after the claim, by a clock 5 s off either way: 0 to 6.8 s apart, 3 allowed.
  Lines lines = claimed(22);
  for (v1::Observation& line : lines) {
    if (line.source() != "clamp") continue;
    line.set_clock("clamp");
    line.set_time_uncertainty_ms(5000);
  }
  EXPECT_EQ(told(judged_form(kClaim, lines)), "unproven(clock_doubt) -3.8 1.2 3 s");
}

TEST(SourcesAgree, AGapAtEachPlaceAndAnyOrder) {
  Lines lines{opened_line(), negative(5, 2, true), negative(20.2, 3, false), note(30, 4),
              closed_line(40, 5)};
  uint32_t seq = 0;
  for (int second = 1; second < 40; second += 2)
    lines.push_back(sample(second, "clamp", ++seq, "clamp.volts", second < 21 ? 12.6 : 9.8));
  EXPECT_EQ(told(judged_form(kClaim, lines)), "met 2.2 2.2 2.2 s");
  for (const std::string& found : with_each_lost(kClaim, lines)) {
    EXPECT_EQ(found.find("deviated"), std::string::npos) << found;
    EXPECT_TRUE(!found.starts_with("operator") || found.find("(no_data)") != std::string::npos)
        << found;
  }
  expect_any_order(kClaim, lines);
}

const std::string kTotal =
    "total_in_phase { phase: \"rolling\" quantity: \"vehicle.rolled\" under: \"10 m\" longest_gap: "
    "\"3 s\" }";

// Free-rolling from 5 to 35 s while the rope counter goes from 20 m down by `metres`.
Lines rolled_job(double metres) {
  Lines lines{opened_line(), mode(5, 2, "ROLLING"), mode(35, 3, "PARKED"), closed_line(45, 4)};
  uint32_t seq = 0;
  for (int second = 1; second < 45; ++second) {
    const double share = std::min(std::max(0.0, (second - 10) / 20.0), 1.0);
    lines.push_back(
        sample(second, "line", ++seq, "line.pull", second >= 8 && second < 32 ? 2500 : 60));
    lines.push_back(sample(second, "line", ++seq, "line.out", 20.0 - metres * share));
  }
  return lines;
}

TEST(TotalInPhase, EachVerdict) {
  // One chord: u = 1.645 x 50 mm x sqrt 2 = 116.3, up to 117 mm.
  const Finding met = judged_form(kTotal, rolled_job(7));
  EXPECT_EQ(told(met), "met 2.883 3 3.117 m");
  EXPECT_EQ(met.basis, Basis::kMeasured);
  EXPECT_EQ(sentence_of(met).substr(0, 78),
            "r met: 7 m (6.88 to 7.12) in 'rolling', by the rope counter, at 10:00:35, limi");
  EXPECT_EQ(told(judged_form(kTotal, rolled_job(12))), "deviated -2.117 -2 -1.883 m");
  EXPECT_EQ(told(judged_form(kTotal, {opened_line(), mode(5, 2, "PARKED"), closed_line(45, 3)})),
            "no");
}

TEST(TotalInPhase, EachReason) {
  EXPECT_EQ(told(judged_form(kTotal, rolled_job(10))), "unproven(too_close) -0.117 0 0.117 m");
  Lines hole = rolled_job(7);  // 6 s without the counter, no winch on file: any way may hide there.
  std::erase_if(hole, [](const v1::Observation& line) {
    return line.source() == "line" && line.time() >= "2026-03-02T10:00:18Z" &&
           line.time() < "2026-03-02T10:00:24Z";
  });
  EXPECT_EQ(told(judged_form(kTotal, hole)).substr(0, 21), "unproven(no_data) - 3");
  Lines open = rolled_job(7);
  std::erase_if(open, [](const v1::Observation& line) {
    return line.has_closed() || line.time() > "2026-03-02T10:00:30Z";
  });
  EXPECT_EQ(told(judged_form(kTotal, open)).substr(0, 17), "unproven(not_yet)");
  expect_any_order(kTotal, rolled_job(7));
}

// With the load cell alone: 0.1 m/s for as long as the line pulled while it rolled.
TEST(TotalInPhase, AtMostWhatTheWinchCanHaveDrawn) {
  const auto pulled = [](int from, int to) {
    const std::string rule =
        "id: \"test\" version: \"1\" title: \"test\"\n"
        "phase { id: \"rolling\" opens: \"rolling.on\" closes: \"rolling.off\" longest: \"5 min\" "
        "}\n"
        "rule { " +
        rule_head("way") + kTotal + " }";
    const auto rules = Rulebook::load(
        {{"test.textproto", rule}},
        {{"r.textproto", "truck { id: \"truck-1\" winch { line_speed: \"6 m/min\" } }\n"}});
    EXPECT_TRUE(rules) << (rules ? "" : rules.error().message);
    Lines lines{opened_line(), mode(5, 2, "ROLLING"), mode(35, 3, "PARKED"), closed_line(60, 4)};
    for (int second = 1; second < 60; ++second)
      lines.push_back(sample(second, "line", static_cast<uint32_t>(second), "line.pull",
                             second >= from && second < to ? 2500 : 60));
    return told(judge_job(*rules, lines).at(0));
  };
  EXPECT_EQ(pulled(10, 20), "met 9 - 10 m");
  EXPECT_EQ(pulled(10, 50), "met 7.5 - 10 m");  // It pulls on when it no longer rolls.
  EXPECT_EQ(pulled(2, 50), "met 7 - 10 m");
  EXPECT_EQ(pulled(10, 99), "met 7.5 - 10 m");  // Nobody saw it end.
}

// The counter ends while the car still rolls.
TEST(SpeedByRope, EndsWithTheCounter) {
  const std::string form =
      "limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" under: \"5 km/h\" "
      "sustained: "
      "\"1 s\" longest_gap: \"3 s\" }";
  Lines cut = rolled_job(7);
  std::erase_if(cut, [](const v1::Observation& line) {
    return line.source() == "line" && line.time() > "2026-03-02T10:00:20Z";
  });
  EXPECT_EQ(told(judged_form(form, cut)).substr(0, 19), "unproven(cut_short)");
  EXPECT_EQ(told(judged_form(form, rolled_job(7))).substr(0, 3), "met");
}

TEST(RuleSets, WorstOfAllBestOfAny) {
  const Lines lines{opened_line(), op(10, 2, R"("identified":{"card":"card-1","how":"BOTH"})"),
                    op(30, 3, R"("rigging":{"on":true,"point":"front_eye","gear":["soft"]})"),
                    closed_line(90, 4)};
  const std::string first =
      "rule { id: \"a\" comes_first { first: \"identified\" then: \"first_touch\" } }";
  const std::string second =
      "rule { id: \"b\" comes_first { first: \"authority\" then: \"first_touch\" } }";
  EXPECT_EQ(told(judged_form("all_of { " + first + second + " }", lines)), "deviated - - - s");
  const Finding any = judged_form("any_of { " + first + second + " }", lines);
  EXPECT_EQ(told(any), "met 20 20 20 s");
  EXPECT_EQ(sentence_of(any),
            "r met: by 'a' of any 2: first_touch at 10:00:30, limit identified before first_touch, "
            "20 s inside; said; record: operator #2, #3; settled");
  expect_any_order("all_of { " + first + second + " }", lines);
  const Lines lost{opened_line(), op(10, 2, R"("identified":{"card":"card-1","how":"BOTH"})"),
                   op(30, 4, R"("rigging":{"on":true,"point":"front_eye","gear":["soft"]})"),
                   closed_line(90, 5)};
  EXPECT_EQ(told(judged_form("all_of { " + first + second + " }", lost)).substr(0, 17),
            "unproven(no_data)");
  EXPECT_EQ(told(judged_form("any_of { " + first + second + " }", lost)).substr(0, 3), "unp");
  EXPECT_EQ(
      told(judged_form("all_of { " + first + second + " }", {opened_line(), closed_line(90, 2)})),
      "no");
}

}  // namespace
}  // namespace fairlead::judge
