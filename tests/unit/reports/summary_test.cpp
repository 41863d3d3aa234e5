// The summary: rates with exact intervals and bounds, completeness first, figures as in the JSON.
#include "reports/summary/summary.h"

#include <gmock/gmock.h>

#include "reports/claim/facts.h"
#include "reports/text.h"
#include "tests/unit/reports/page_text.h"
#include "tests/unit/reports/sample_job.h"

namespace fairlead::reports {
namespace {

using testing::HasSubstr;
using testing::Not;

constexpr int64_t kDay = 86'400'000'000;

// 1,200 loads: 18 outside, 140 not shown, the rest inside.
SummaryInput span_of_loads(uint64_t met, uint64_t deviated, uint64_t unproven,
                           const std::string& title = "Short way on its own wheels") {
  SummaryInput input;
  RuleNames names;
  input.from_us = sample_options().issued_at_us - 400 * kDay;
  input.to_us = sample_options().issued_at_us;
  input.register_files = sample_job().register_files;
  input.record = sample_job().record;
  for (uint64_t i = 0; i < met + deviated + unproven; ++i) {
    SummaryJob job;
    job.opened_us = input.from_us;
    job.closed = job.complete = i != 0;
    job.handlings = 1;
    auto f = finding("distance", judge::Verdict::kMet, judge::Basis::kMeasured, "1", "1", "1", "m");
    f.title = title;
    if (i < deviated) f.verdict = judge::Verdict::kDeviated;
    if (i >= deviated && i < deviated + unproven) {
      f.verdict = judge::Verdict::kUnproven;
      f.reason = judge::Reason::kNoData;
    }
    job.people = {"card-" + std::to_string(i % 6)};
    job.findings = {summary_finding(f, names)};
    input.jobs.push_back(job);
  }
  return input;
}

SummaryJob job_of(const JobRecord& record) {
  RuleNames names;
  return summary_job(record, names);
}

Json json_of(const SummaryInput& input) {
  const auto json = summary_json(input, sample_options());
  EXPECT_TRUE(json.has_value()) << json.error().message;
  return *json;
}

// Garwood limits of a count of 18 are 10.668 and 28.448 [C, chi-squared quantiles], so 18 of 1,060
// judged are 1.70 per 100 (1.01 to 2.68); bounds 18 and 158 of 1,200.
TEST(Summary, RateIntervalAndBounds) {
  const Json row = json_of(span_of_loads(1042, 18, 140)).at("deviations").at("rows").at(0);
  EXPECT_EQ(row.at("rate"), "1.70");
  EXPECT_EQ(row.at("lo"), "1.01");
  EXPECT_EQ(row.at("hi"), "2.68");
  EXPECT_EQ(row.at("all_good"), "1.5");
  EXPECT_EQ(row.at("all_bad"), "13.2");
  EXPECT_EQ(row.at("per"), "handlings on own wheels");
}

// No event in 5,000 is at most 3.689 / 5,000 = 0.07 per 100 (Garwood, k = 0).
TEST(Summary, NoneSeenIsNotNone) {
  const Json row = json_of(span_of_loads(5000, 0, 0)).at("deviations").at("rows").at(0);
  EXPECT_EQ(row.at("rate"), "0.00");
  EXPECT_EQ(row.at("hi"), "0.07");
}

TEST(Summary, TooFewJudgedGivesCountsWithoutARate) {
  const Json row = json_of(span_of_loads(18, 1, 3)).at("deviations").at("rows").at(0);
  EXPECT_EQ(row.at("rate"), "-");
  EXPECT_EQ(row.at("rate_words"), "too few judged");
  EXPECT_EQ(row.at("deviated"), "1");
  // 19 judged and 3 unproven are 22: enough for bounds, not for a rate. 1 of 22 is 4.5 per 100.
  EXPECT_EQ(row.at("all_good"), "4.5");
}

// Bounds on three cases read like a finding and say nothing.
TEST(Summary, TooFewCasesGiveNoBoundsAndNoBar) {
  SummaryInput few = span_of_loads(2, 1, 1);
  few.own_copy = true;  // Four people: hidden anywhere else.
  const Json json = json_of(few);
  const Json row = json.at("deviations").at("rows").at(0);
  EXPECT_EQ(row.at("bounds_words"), "too few");
  EXPECT_EQ(row.at("all_good"), "-");
  EXPECT_FALSE(json.at("deviations").at("has_chart"));
}

TEST(Summary, CompletenessComesFirstAndFiguresStandInTheJson) {
  SummaryInput input = span_of_loads(1042, 18, 140);
  input.jobs_invoiced = 1250;
  input.unrecorded_work = 7;
  input.claims = {{input.from_us, input.from_us + 41 * kDay}};
  const Json json = json_of(input);
  const auto html = summary_html(json);
  ASSERT_TRUE(html.has_value()) << html.error().message;
  const std::string text = visible_text(*html);
  EXPECT_LT(text.find("How much of the work is on record"), text.find("Exposure"));
  EXPECT_LT(text.find("Exposure"), text.find("Deviations"));
  EXPECT_THAT(text, HasSubstr("96.0 % of those invoiced"));
  EXPECT_THAT(text, HasSubstr("no overall score"));
  EXPECT_THAT(text, HasSubstr("140 of 1,200 unproven"));
  const auto known = figures_in(all_strings(json));
  for (const auto& figure : figures_in(text)) EXPECT_TRUE(known.contains(figure)) << figure;
  EXPECT_EQ(json.at("claims").at("rows").at(0).at("claims"), "1");
  EXPECT_EQ(json_bytes(json), json_bytes(json_of(input)));
}

TEST(Summary, StandingOfEveryChainAndJobAndTheRequestAreThere) {
  SummaryInput input = span_of_loads(3, 0, 0);
  input.standing.devices = {{"OW-04", std::string(32, 'a'), 2, 1234, std::string(64, 'c')}};
  input.standing.jobs = {{std::string(32, 'b'), 57}};
  input.standing.request = "old 0\n\nozzlewick/fairlead/g1\n9\n";
  input.standing.alarm = "no countersigner has answered for more than 72 h";
  const auto json = summary_json(input, sample_options());
  ASSERT_TRUE(json.has_value()) << json.error().message;
  const Json& device = json->at("standing").at("devices").at(0);
  EXPECT_EQ(device.at("chain"), std::string(64, 'c'));
  EXPECT_EQ(device.at("seq"), 1234);
  EXPECT_EQ(device.at("epoch"), "2");
  EXPECT_EQ(json->at("standing").at("jobs").at(0).at("count"), 57);
  const auto html = summary_html(*json);
  ASSERT_TRUE(html.has_value()) << html.error().message;
  const std::string text = visible_text(*html);
  EXPECT_THAT(text, HasSubstr("1,234"));
  EXPECT_THAT(text, HasSubstr("old 0"));
  EXPECT_THAT(text, HasSubstr("Alarm: no countersigner"));
}

TEST(Summary, NobodyByName) {
  SummaryInput input = span_of_loads(30, 1, 0);
  input.jobs.push_back(job_of(sample_job()));
  const std::string all = json_bytes(json_of(input));
  EXPECT_THAT(all, Not(HasSubstr("card-")));
  EXPECT_THAT(all, Not(HasSubstr("operator 3f")));
}

TEST(Summary, JobGivesItsExposure) {
  const SummaryJob job = job_of(sample_job());
  EXPECT_EQ(job.handlings, 1u);
  EXPECT_EQ(job.connections, 1u);
  EXPECT_EQ(job.departures, 1u);
  EXPECT_EQ(job.takings, 1u);
  EXPECT_TRUE(job.complete);
}

// The jaws' own contacts tell of a connection and of the first touch, with or without a tap.
TEST(Summary, ContactsCountWithoutTheOperatorsWord) {
  JobRecord record = sample_job();
  std::erase_if(record.lines, [](const v1::Observation& line) { return line.has_clamp(); });
  EXPECT_EQ(job_of(record).connections, 1u);
  const JobFacts facts = gather_facts(record);
  ASSERT_TRUE(facts.first_touch.has_value());
  EXPECT_EQ(LocalTime(0, "").clock(*facts.first_touch), "11:56:20");
}

// RFC 4180: a field with a comma or quote stands in quotes, quotes doubled.
TEST(Summary, CsvColumnsAndQuoting) {
  const SummaryInput input = span_of_loads(30, 1, 0, "=1+1, \"x\"");
  const std::string csv = summary_csv(json_of(input));
  EXPECT_THAT(csv, HasSubstr("\r\nprocedure,rule,title,counted_per,met,deviated"));
  EXPECT_THAT(csv, HasSubstr("load,distance,\"'=1+1, \"\"x\"\"\",handlings on own wheels,30,1,0"));
}

TEST(Summary, EmptySpanIsRefused) {
  SummaryInput input;
  const auto json = summary_json(input, sample_options());
  ASSERT_FALSE(json.has_value());
  EXPECT_THAT(json.error().message, HasSubstr("give a later `to`"));
}

}  // namespace
}  // namespace fairlead::reports
