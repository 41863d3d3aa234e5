// Change over the span against NIST/SEMATECH e-Handbook 6.3.3.1, counts of defects on 25 wafers:
// centre 16, limits 4 to 28 [V2]; the data are from memory [M], their sum of 400 and number checked
// here [C]; wafer 24 with 31 is outside, wafer 3 with 28 on the limit and so inside.
#include <gmock/gmock.h>

#include <numeric>

#include "reports/summary/summary.h"
#include "reports/text.h"
#include "tests/unit/reports/page_text.h"
#include "tests/unit/reports/sample_job.h"

namespace fairlead::reports {
namespace {

using testing::HasSubstr;

constexpr int64_t kDay = 86'400'000'000;
constexpr uint64_t kJobsAWeek = 100;
const std::vector<uint64_t> kWafers{16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14,
                                    16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13};

// Hundred jobs a week (or four weeks), of which so many deviated.
SummaryInput periods_of(const std::vector<uint64_t>& deviated, int days = 7) {
  SummaryInput input;
  RuleNames names;
  const auto count = static_cast<int64_t>(deviated.size());
  input.to_us = sample_options().issued_at_us;
  input.from_us = input.to_us - count * days * kDay;
  for (int64_t i = 0; i < count; ++i) {
    for (uint64_t k = 0; k < kJobsAWeek; ++k) {
      SummaryJob job;
      job.opened_us = input.from_us + i * days * kDay + static_cast<int64_t>(k);
      const auto verdict =
          k < deviated[static_cast<size_t>(i)] ? judge::Verdict::kDeviated : judge::Verdict::kMet;
      job.people = {"card-" + std::to_string(k % 6)};
      job.findings = {summary_finding(
          finding("distance", verdict, judge::Basis::kMeasured, "1", "1", "1", "m"), names)};
      input.jobs.push_back(job);
    }
  }
  return input;
}

Json change_of(const SummaryInput& input) {
  const auto json = summary_json(input, sample_options());
  EXPECT_TRUE(json.has_value()) << json.error().message;
  return json ? json->at("change") : Json{};
}

TEST(SummaryChange, NamesThePeriodOutside) {
  ASSERT_EQ(std::accumulate(kWafers.begin(), kWafers.end(), uint64_t{0}), 400U);
  ASSERT_EQ(kWafers.size(), 25U);
  const SummaryInput input = periods_of(kWafers);
  const Json change = change_of(input);
  ASSERT_EQ(change.at("rows").size(), 1U);
  const Json& row = change.at("rows").at(0);
  EXPECT_EQ(row.at("mean"), "16.0");
  EXPECT_EQ(row.at("periods"), "25");
  const LocalTime local = local_time(sample_options());
  const std::string week = local.date(input.from_us + 23 * 7 * kDay);
  EXPECT_EQ(row.at("words"), "outside, from " + week + ": 31.0, limits 4.0 to 28.0");
  // The claims' chart has nothing to show: one of two was looked at.
  EXPECT_THAT(change.at("looked").get<std::string>(),
              HasSubstr("Charts looked at: 1 of each kind, with 25 points of 7 days"));
  EXPECT_THAT(change.at("looked").get<std::string>(), HasSubstr("want of numbers: 1."));
}

TEST(SummaryChange, WithoutThatWeekNoChangeIsShown) {
  std::vector<uint64_t> inside = kWafers;
  inside.erase(inside.begin() + 23);
  inside.erase(inside.begin() + 2);  // 28 would be beyond the limit of the lower mean.
  const SummaryInput input = periods_of(inside);
  const auto json = summary_json(input, sample_options());
  ASSERT_TRUE(json.has_value()) << json.error().message;
  EXPECT_EQ(json->at("change").at("rows").at(0).at("words"), "no change shown");
  const auto html = summary_html(*json);
  ASSERT_TRUE(html.has_value()) << html.error().message;
  EXPECT_THAT(visible_text(*html), HasSubstr("no change shown"));
}

// Eleven of 10 and two of 40: mean 190 / 13 = 14.62, limits -+ 3 sqrt(14.62) to 3.1 and 26.1 [C].
TEST(SummaryChange, EveryPeriodOutsideIsNamed) {
  std::vector<uint64_t> two(13, 10);
  two[4] = two[9] = 40;
  const std::string words = change_of(periods_of(two)).at("rows").at(0).at("words");
  const std::string limits = ": 40.0, limits 3.1 to 26.1";
  EXPECT_THAT(words, HasSubstr(limits + "; from "));
  EXPECT_THAT(words,
              HasSubstr(limits + "; the running mean (EWMA) is outside from the period of "));
}

TEST(SummaryChange, ClaimsByTheJobsPeriodOnceOldEnough) {
  SummaryInput input = periods_of(std::vector<uint64_t>(25, 0));
  for (size_t i = 0; i < kWafers.size(); ++i) {
    const int64_t opened = input.from_us + static_cast<int64_t>(i) * 7 * kDay;
    for (uint64_t k = 0; k < kWafers[i]; ++k) {
      input.claims.push_back({opened, opened + 10 * kDay});
      input.claims.push_back({opened, opened + 91 * kDay});  // Too late to be counted.
    }
  }
  // Issued at the span's end: only the first 12 weeks are 90 days old.
  const Json young = change_of(input);
  ASSERT_EQ(young.at("rows").size(), 1U);
  EXPECT_EQ(young.at("rows").at(0).at("periods"), "12");
  ReportOptions later = sample_options();
  later.issued_at_us += 90 * kDay;
  const auto json = summary_json(input, later);
  ASSERT_TRUE(json.has_value()) << json.error().message;
  const Json& row = json->at("change").at("rows").at(0);
  EXPECT_EQ(row.at("per"), "1,000 jobs");
  EXPECT_EQ(row.at("mean"), "160.0");
  EXPECT_THAT(row.at("words").get<std::string>(), HasSubstr(": 310.0, limits 40.0 to 280.0"));
}

// NIST 6.3.3.1: the normal limits want a mean of 5 or more [V2].
TEST(SummaryChange, SmallCountsAndFewPeriodsAreNotLookedAt) {
  EXPECT_TRUE(change_of(periods_of(std::vector<uint64_t>(12, 4))).at("rows").empty());
  EXPECT_EQ(change_of(periods_of(std::vector<uint64_t>(12, 5))).at("rows").size(), 1U);
  const Json few = change_of(periods_of(std::vector<uint64_t>(11, 50)));
  EXPECT_TRUE(few.at("rows").empty());
  EXPECT_THAT(few.at("looked").get<std::string>(), HasSubstr("Charts looked at: 0"));
}

// Fewer than 20 judged make no point: 11 are left of 12.
TEST(SummaryChange, APeriodOfFewJudgedIsLeftOut) {
  SummaryInput input = periods_of(std::vector<uint64_t>(12, 10));
  const int64_t last = input.to_us - 7 * kDay;
  size_t kept = 0;
  std::erase_if(input.jobs, [&](const auto& job) { return job.opened_us >= last && ++kept > 19; });
  EXPECT_TRUE(change_of(input).at("rows").empty());
}

TEST(SummaryChange, ALongSpanIsCountedByFourWeeks) {
  const Json row = change_of(periods_of(std::vector<uint64_t>(13, 10), 28)).at("rows").at(0);
  EXPECT_EQ(row.at("periods"), "13");
  EXPECT_EQ(row.at("words"), "no change shown");
}

}  // namespace
}  // namespace fairlead::reports
