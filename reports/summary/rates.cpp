// Counting findings and turning counts into rates.
#include <algorithm>
#include <tuple>
#include <unordered_map>

#include "daemon/physics/statistics.h"
#include "reports/claim/facts.h"
#include "reports/claim/finding_words.h"
#include "reports/job_way.h"
#include "reports/summary/summary.h"
#include "reports/text.h"

namespace fairlead::reports {
namespace {

using judge::Applies;
using judge::Verdict;

constexpr double kDay_us = 86'400e6;
constexpr size_t kLongestTitle = 120;

void count_one(const SummaryFinding& f, const SummaryJob& job, RuleCount& count) {
  if (f.applies == Applies::kNo) {
    ++count.not_applicable;
    return;
  }
  count.people.insert(job.people.begin(), job.people.end());
  if (f.applies == Applies::kUnknown) {
    ++count.doubtful;
    return;
  }
  if (f.verdict == Verdict::kMet) {
    ++count.met;
  } else if (f.verdict == Verdict::kDeviated) {
    ++count.deviated;
  } else {
    ++count.unproven;
    ++count.why[f.reason];
    return;
  }
  count.measured += f.basis == judge::Basis::kMeasured;
}

void add_once(std::vector<std::string>& all, const std::string& one) {
  if (!one.empty() && std::ranges::find(all, one) == all.end()) all.push_back(one);
}

// Whoever opened it, joined it, or is named as crew.
void take_people_and_gear(const v1::Observation& line, SummaryJob& job) {
  if (line.has_opened()) add_once(job.people, line.opened().operator_());
  if (line.has_crew()) add_once(job.people, line.crew().operator_());
  if (line.has_tiedown()) {
    add_once(job.gear, line.tiedown().gear());
    add_once(job.gear, line.tiedown().anchor_gear());
  }
  if (line.has_rigging()) {
    for (const auto& gear : line.rigging().gear()) add_once(job.gear, gear);
  }
}

// "distance" or "load/distance", as the truck names it.
bool deviated_at_last(const JobRecord& record, const std::string& rule) {
  return std::ranges::any_of(record.findings, [&](const judge::Finding& f) {
    return f.verdict == Verdict::kDeviated &&
           (f.rule == rule || f.procedure_id + "/" + f.rule == rule);
  });
}

double lot_days(const JobFacts& facts) {
  int64_t since_us = 0;
  bool stored = false;
  double days = 0;
  const auto leave = [&](int64_t at_us) {
    if (stored) days += static_cast<double>(at_us - since_us) / kDay_us;
    stored = false;
  };
  for (const auto& mark : facts.lines) {
    if (mark.taken_back || !mark.line->has_custody()) continue;
    if (mark.line->custody().event() == v1::Custody::STORED) {
      if (!stored) since_us = mark.time_us;
      stored = true;
    } else {
      leave(mark.time_us);
    }
  }
  leave(facts.end_us);
  return days;
}

}  // namespace

SummaryFinding summary_finding(const judge::Finding& f, RuleNames& names) {
  RuleName name{f.procedure_id, f.rule, shortened(title_words(f), kLongestTitle),
                f.procedure_sha256};
  const auto [it, fresh] = names.insert(std::make_shared<const RuleName>(std::move(name)));
  return {*it, f.applies, f.verdict, f.reason, f.basis};
}

SummaryJob summary_job(const JobRecord& record, RuleNames& names) {
  const JobFacts facts = gather_facts(record);
  SummaryJob job;
  job.job_id = record.job_id;
  job.opened_us = facts.opened.value_or(facts.begin_us);
  job.closed = facts.closed.has_value();
  bool settled = true;
  for (const auto& finding : record.findings) {
    job.findings.push_back(summary_finding(finding, names));
    settled = settled && finding.settled;
  }
  job.complete = job.closed && settled && record.record.entries_missing == 0;
  job.departures = static_cast<uint32_t>(facts.departures.size());
  for (const auto& mark : facts.lines) {
    if (mark.taken_back) continue;
    const auto& line = *mark.line;
    if (line.has_custody() && line.custody().event() == v1::Custody::TAKEN) ++job.takings;
    if (line.has_warning()) {
      ++job.warnings;
      job.heeded += !deviated_at_last(record, line.warning().rule());
    }
    take_people_and_gear(line, job);
  }
  for (const auto& stretch : facts.stretches) {
    if (stretch.words == "free-rolling") ++job.handlings;
    if (stretch.words == "both clamps on") ++job.connections;
  }
  job.loaded_km = job_way(record, facts).loaded_km;
  job.bay_days = lot_days(facts);
  return job;
}

std::vector<RuleCount> count_rules(const std::vector<SummaryJob>& jobs) {
  std::unordered_map<const RuleName*, RuleCount*> known;
  std::map<std::tuple<std::string, std::string>, RuleCount> counts;
  for (const auto& job : jobs) {
    for (const auto& f : job.findings) {
      RuleCount*& count = known[f.name.get()];
      if (count == nullptr) {
        count = &counts[{f.name->procedure, f.name->rule}];
        count->rule = f.name->rule;
        count->procedure = f.name->procedure;
        count->title = f.name->title;
        count->texts.insert(f.name->procedure_sha256);
      }
      count_one(f, job, *count);
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
