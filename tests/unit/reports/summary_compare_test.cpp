// Comparisons only where they are fair; no figure of fewer than five people; claims by month of the
// job at equal age; signals against the fleet's own past.
#include <gmock/gmock.h>

#include "reports/summary/summary.h"
#include "reports/text.h"
#include "tests/unit/reports/page_text.h"
#include "tests/unit/reports/sample_job.h"

namespace fairlead::reports {
namespace {

using testing::HasSubstr;
using testing::Not;

constexpr int64_t kDay = 86'400'000'000;

struct Make {
  uint64_t jobs = 5'000, deviated = 0, unproven = 0;
  judge::Basis basis = judge::Basis::kMeasured;
  std::string sha = "aa";
  size_t people = 6;
};

std::vector<SummaryJob> make(const Make& m, int64_t from_us, int64_t to_us, RuleNames& names) {
  std::vector<SummaryJob> out;
  for (uint64_t i = 0; i < m.jobs; ++i) {
    auto f = finding("distance", judge::Verdict::kMet, m.basis, "1", "1", "1", "m");
    f.procedure_sha256 = m.sha;
    if (i < m.deviated) f.verdict = judge::Verdict::kDeviated;
    if (i >= m.deviated && i < m.deviated + m.unproven) f.verdict = judge::Verdict::kUnproven;
    SummaryJob job;
    job.opened_us =
        from_us + static_cast<int64_t>(i) * ((to_us - from_us) / static_cast<int64_t>(m.jobs));
    job.people = {"card-" + std::to_string(i % m.people)};
    job.findings = {summary_finding(f, names)};
    out.push_back(std::move(job));
  }
  return out;
}

// Two quarters of 91 days that ended a year before the page is issued.
SummaryInput quarters(const Make& before, const Make& now) {
  SummaryInput in;
  RuleNames names;
  in.to_us = sample_options().issued_at_us - 366 * kDay;
  in.from_us = in.to_us - 91 * kDay;
  in.past_from_us = in.from_us - 365 * kDay;
  in.jobs = make(now, in.from_us, in.to_us, names);
  in.past = make(before, in.from_us - 91 * kDay, in.from_us, names);
  in.record = sample_job().record;
  return in;
}

Json json_of(const SummaryInput& in) {
  const auto json = summary_json(in, sample_options());
  EXPECT_TRUE(json.has_value()) << json.error().message;
  return json ? *json : Json{};
}
Json compare_of(const Make& before, const Make& now) {
  return json_of(quarters(before, now)).at("compare");
}
std::string why_of(const Make& before, const Make& now) {
  const Json compare = compare_of(before, now);
  if (compare.at("left_out").empty()) return "";
  return compare.at("left_out").at(0).at("why").get<std::string>();
}

// Worked in claims.md 3: 15 and 22 of 5,000 are 0.30 (0.17 to 0.49) and 0.44 (0.28 to 0.67 [C:
// 0.276 to 0.666]) per 100, p = 0.32 by the exact conditional test [C]: no change shown.
TEST(SummaryCompare, WorkedQuarters) {
  const Json compare = compare_of({.deviated = 15}, {.deviated = 22});
  ASSERT_GE(compare.at("rows").size(), 1u);
  const Json& row = compare.at("rows").at(0);
  EXPECT_EQ(row.at("before"), "0.30 (0.17 to 0.49)");
  EXPECT_EQ(row.at("now"), "0.44 (0.28 to 0.67)");
  EXPECT_EQ(row.at("words"), "no change shown, p = 0.32");
}

TEST(SummaryCompare, AChangeIsSaidWithItsP) {
  const Json row = compare_of({.deviated = 15}, {.deviated = 60}).at("rows").at(0);
  EXPECT_EQ(row.at("words"), "more, p below 0.001");
  EXPECT_EQ(compare_of({.deviated = 60}, {.deviated = 15}).at("rows").at(0).at("words"),
            "fewer, p below 0.001");
}

// The list of claims.md 3, "unfair".
TEST(SummaryCompare, UnfairComparisonsAreLeftOutWithTheReason) {
  EXPECT_EQ(why_of({}, {}), "");
  EXPECT_EQ(why_of({.sha = "aa"}, {.sha = "bb"}), "the procedure's text changed");
  EXPECT_THAT(why_of({.unproven = 100}, {.unproven = 400}), HasSubstr("share of unproven moved"));
  EXPECT_EQ(why_of({.unproven = 100}, {.unproven = 340}), "");
  EXPECT_THAT(why_of({.basis = judge::Basis::kSaid}, {}), HasSubstr("better eyes find more"));
  EXPECT_EQ(why_of({.jobs = 19}, {}), "fewer than 20 judged");
  EXPECT_EQ(why_of({.people = 4}, {}), "fewer than 5 people");
  EXPECT_EQ(why_of({.people = 5}, {}), "");
}

TEST(SummaryCompare, WithoutThatPastNothingIsCompared) {
  SummaryInput in = quarters({}, {});
  in.past.clear();
  EXPECT_FALSE(json_of(in).at("compare").at("has_rows"));
  EXPECT_THAT(json_of(in).at("compare").at("none").get<std::string>(), HasSubstr("not on record"));
}

TEST(SummaryPeople, FewerThanFiveGiveNoFigureButInTheOwnersOwnCopy) {
  SummaryInput in = quarters({}, {.deviated = 90, .people = 4});
  const Json hidden = json_of(in);
  EXPECT_EQ(hidden.at("deviations").at("rows").at(0).at("deviated"), "-");
  EXPECT_EQ(hidden.at("deviations").at("rows").at(0).at("rate_words"), "fewer than 5 people");
  EXPECT_FALSE(hidden.at("deviations").at("has_chart"));
  EXPECT_TRUE(hidden.at("change").at("rows").empty());
  EXPECT_EQ(hidden.at("claims").at("months").at(0).at("d90"), "-");
  const auto html = summary_html(hidden);
  ASSERT_TRUE(html.has_value()) << html.error().message;
  EXPECT_THAT(visible_text(*html), Not(HasSubstr("1.80 (")));  // 90 of 5,000.
  EXPECT_THAT(summary_csv(hidden), HasSubstr(",handlings on own wheels,-,-,-"));
  in.own_copy = true;
  EXPECT_EQ(json_of(in).at("deviations").at("rows").at(0).at("deviated"), "90");
  in.own_copy = false;
  for (size_t i = 0; i < in.jobs.size(); ++i) in.jobs[i].people = {"card-" + std::to_string(i % 5)};
  EXPECT_EQ(json_of(in).at("deviations").at("rows").at(0).at("deviated"), "90");
}

// A month is young until its last job is as old as the claims are counted.
TEST(SummaryClaims, ByMonthOfTheJobAtEqualAge) {
  SummaryInput in;
  RuleNames names;
  in.to_us = sample_options().issued_at_us;
  in.from_us = in.to_us - 230 * kDay;
  in.jobs = make({.jobs = 2'000}, in.from_us, in.to_us, names);
  const int64_t first = in.jobs[0].opened_us;
  in.claims = {{first, first + 10 * kDay, ClaimState::kPaid, "1,250.50 EUR", {"lot_damage"}},
               {first, first + 89 * kDay, ClaimState::kDeclined},
               {first, first + 91 * kDay, ClaimState::kOpen},
               {first, first + 120 * kDay, ClaimState::kPaid, "80 EUR"},
               {first, first + 120 * kDay, ClaimState::kPaid, "a handshake"},
               {first, first + 120 * kDay, ClaimState::kPaid, "1.250,50 EUR"}};
  const Json claims = json_of(in).at("claims");
  const Json& oldest = claims.at("months").at(0);
  EXPECT_EQ(oldest.at("d90"), "2");
  EXPECT_EQ(oldest.at("d180"), "6");
  EXPECT_EQ(oldest.at("d365"), "too young");
  EXPECT_EQ(oldest.at("paid"), "4");
  EXPECT_EQ(oldest.at("declined"), "1");
  EXPECT_EQ(oldest.at("open"), "1");
  EXPECT_EQ(claims.at("months").at(claims.at("months").size() - 1).at("d90"), "too young");
  EXPECT_EQ(claims.at("paid"), "Paid so far on 4 claims: 1,331 EUR; 2 claims without a sum.");
}

TEST(SummaryClaims, RoadAndLotHaveExposuresOfTheirOwn) {
  SummaryInput in = quarters({}, {});
  for (auto& job : in.jobs) {
    job.loaded_km = 20;
    job.bay_days = 0.5;
  }
  const int64_t at = in.jobs[0].opened_us;
  in.claims = {{at, at + kDay, ClaimState::kOpen, "", {"shifted"}},
               {at, at + kDay, ClaimState::kOpen, "", {"lot_damage"}}};
  const Json classes = json_of(in).at("claims").at("classes");
  EXPECT_EQ(classes.at(0).at("rate"), "1.0 (0.0 to 5.6)");  // 1 in 100,000 km; Garwood k = 1.
  EXPECT_EQ(classes.at(1).at("rate"), "0.4 (0.0 to 2.2)");  // 1 in 2,500 bay-days.
}

// The past's mean is the centre, so that one bad week of a quarter stands out by itself.
TEST(SummaryAgainstThePast, AShiftIsFoundByAllThree) {
  SummaryInput in = quarters({.jobs = 9'100, .deviated = 0}, {.jobs = 9'100});
  size_t i = 0;
  for (auto& job : in.past) {
    if (i++ % 50 == 0) job.findings[0].verdict = judge::Verdict::kDeviated;  // 2 per 100.
  }
  i = 0;
  for (auto& job : in.jobs) {
    const bool late = job.opened_us >= in.from_us + 56 * kDay;
    if (i++ % (late ? 20 : 50) == 0) job.findings[0].verdict = judge::Verdict::kDeviated;
  }
  const Json row = json_of(in).at("change").at("rows").at(0);
  EXPECT_EQ(row.at("against"), "the past");
  EXPECT_EQ(row.at("mean"), "2.0");
  const std::string words = row.at("words"),
                    week = local_time(sample_options()).date(in.from_us + 56 * kDay);
  EXPECT_THAT(words, HasSubstr("outside, from " + week));
  EXPECT_THAT(words, HasSubstr("(EWMA) is outside from the period of " + week));
  EXPECT_THAT(words, HasSubstr("(CUSUM) is outside"));
}

TEST(SummaryAgainstThePast, NoShiftIsNoSignal) {
  SummaryInput in = quarters({.jobs = 9'100}, {.jobs = 9'100});
  for (auto* jobs : {&in.past, &in.jobs}) {
    size_t i = 0;
    for (auto& job : *jobs) {
      if (i++ % 50 == 0) job.findings[0].verdict = judge::Verdict::kDeviated;
    }
  }
  EXPECT_EQ(json_of(in).at("change").at("rows").at(0).at("words"), "no change shown");
}

TEST(SummaryExposure, WarningsHeededAreThoseWhoseRuleHeld) {
  JobRecord record = sample_job();
  RuleNames names;
  const SummaryJob before = summary_job(record, names);
  v1::Observation warning;
  warning.set_time(record.lines.back().time());
  warning.set_source("truck");
  warning.mutable_warning()->set_rule("load/speed");
  record.lines.push_back(warning);
  warning.mutable_warning()->set_rule("load/distance");  // Deviated in the sample.
  record.lines.push_back(warning);
  const SummaryJob job = summary_job(record, names);
  EXPECT_EQ(job.warnings, before.warnings + 2);
  EXPECT_EQ(job.heeded, before.heeded + 1);
}

TEST(SummaryText, PreviewOwnCopyAndRecipientsStandOnThePage) {
  SummaryInput in = quarters({}, {});
  in.preview = in.own_copy = true;
  in.recipients = {"claims@insurer.example", "<b>x</b>\u202Ey"};
  const auto html = summary_html(json_of(in));
  ASSERT_TRUE(html.has_value()) << html.error().message;
  const std::string text = visible_text(*html);
  EXPECT_THAT(text, HasSubstr("Preview: not issued"));
  EXPECT_THAT(text, HasSubstr("Not for sending"));
  EXPECT_THAT(text, HasSubstr("Sent to claims@insurer.example and"));
  EXPECT_THAT(*html, Not(HasSubstr("<b>x</b>")));
  EXPECT_THAT(*html, Not(HasSubstr("\u202E")));
}

}  // namespace
}  // namespace fairlead::reports
