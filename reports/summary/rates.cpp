// Counting findings and turning counts into rates.
#include <algorithm>
#include <tuple>

#include "daemon/physics/statistics.h"
#include "reports/claim/facts.h"
#include "reports/claim/finding_words.h"
#include "reports/summary/summary.h"

namespace fairlead::reports {
namespace {

using judge::Applies;
using judge::Verdict;

void count_one(const judge::Finding& f, RuleCount& count) {
  if (f.applies == Applies::kNo) {
    ++count.not_applicable;
  } else if (f.applies == Applies::kUnknown) {
    ++count.doubtful;
  } else if (f.verdict == Verdict::kMet) {
    ++count.met;
  } else if (f.verdict == Verdict::kDeviated) {
    ++count.deviated;
  } else {
    ++count.unproven;
    ++count.why[reason_words(f)];
  }
}

}  // namespace

SummaryJob summary_job(const JobRecord& record) {
  const JobFacts facts = gather_facts(record);
  SummaryJob job;
  job.job_id = record.job_id;
  job.opened_us = facts.opened.value_or(facts.begin_us);
  job.closed = facts.closed.has_value();
  job.findings = record.findings;
  const bool settled = std::all_of(record.findings.begin(), record.findings.end(),
                                   [](const auto& f) { return f.settled; });
  job.complete = job.closed && settled && record.record.entries_missing == 0;
  bool aboard = false;
  for (const auto& mark : facts.lines) {
    if (mark.taken_back) continue;
    const auto& line = *mark.line;
    if (line.has_wheels() && line.wheels().which() == "ALL") {
      aboard = line.wheels().on() == v1::Wheels::DECK || line.wheels().on() == v1::Wheels::LIFT;
    }
    if (line.has_truck_motion() && line.truck_motion().moving() && aboard) ++job.departures;
    if (line.has_custody() && line.custody().event() == v1::Custody::TAKEN) ++job.takings;
    if (line.has_warning()) ++job.warnings;
  }
  for (const auto& stretch : facts.stretches) {
    if (stretch.words == "free-rolling") ++job.handlings;
    if (stretch.words == "both clamps on") ++job.connections;
  }
  return job;
}

std::vector<RuleCount> count_rules(const std::vector<SummaryJob>& jobs) {
  std::map<std::tuple<std::string, std::string>, RuleCount> counts;
  for (const auto& job : jobs) {
    for (const auto& f : job.findings) {
      RuleCount& count = counts[{f.procedure_id, f.rule}];
      count.rule = f.rule;
      count.procedure = f.procedure_id;
      if (count.title.empty()) count.title = title_words(f);
      count_one(f, count);
    }
  }
  std::vector<RuleCount> out;
  for (auto& [key, count] : counts) out.push_back(std::move(count));
  return out;
}

Rate rate_of(const RuleCount& count) {
  Rate rate;
  rate.bounded = count.all() >= kFewestJudged;
  if (count.all() > 0) {
    const auto all = static_cast<double>(count.all());
    rate.all_good = 100 * static_cast<double>(count.deviated) / all;
    rate.all_bad = 100 * static_cast<double>(count.deviated + count.unproven) / all;
  }
  rate.shown = count.judged() >= kFewestJudged;
  if (!rate.shown) return rate;
  const auto judged = static_cast<double>(count.judged());
  const auto interval = physics::poisson_interval(count.deviated);
  rate.per_100 = 100 * static_cast<double>(count.deviated) / judged;
  rate.lo = 100 * interval.lo / judged;
  // A Poisson upper limit can pass the whole; a share cannot.
  rate.hi = std::min(100.0, 100 * interval.hi / judged);
  return rate;
}

}  // namespace fairlead::reports
