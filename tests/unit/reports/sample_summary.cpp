#include "tests/unit/reports/sample_summary.h"

#include "tests/unit/reports/sample_job.h"

namespace fairlead::reports {
namespace {

constexpr int64_t kDay = 86'400'000'000;

}  // namespace

SummaryInput sample_summary(const std::string& text) {
  SummaryInput in;
  RuleNames names;
  in.to_us = sample_options().issued_at_us - 100 * kDay;
  in.from_us = in.to_us - 364 * kDay;
  in.past_from_us = in.from_us - 365 * kDay;
  in.jobs_invoiced = 21'000;
  in.unrecorded_work = 37;
  in.record = sample_job().record;
  in.register_files = sample_job().register_files;
  in.recipients = {"insurer@example.org"};
  auto* gear = in.register_files.add_gear();
  gear->set_id(text);
  gear->set_inspect_by("2026-01-01");
  for (int rule = 0; rule < 40; ++rule) {
    auto f = finding("rule" + std::to_string(rule), judge::Verdict::kMet, judge::Basis::kMeasured,
                     "1", "1", "1", "m");
    f.title =
        rule == 0 ? text : "A rule with a title of middling length, number " + std::to_string(rule);
    f.procedure_id = rule == 1 ? text.substr(0, 40) : "load";
    for (int i = -1'300; i < 1'300; ++i) {
      SummaryJob job;
      job.opened_us = in.from_us + i * (364 * kDay / 1'300);
      job.people = {"card-" + std::to_string((i + 2'600) % 7)};
      const bool late = i > 1'000;
      f.verdict = (i + 2'600) % (late && rule < 3 ? 6 : 17) == rule % 6 ? judge::Verdict::kDeviated
                                                                        : judge::Verdict::kMet;
      job.findings = {summary_finding(f, names)};
      job.job_id = std::string(32, 'a');
      (i < 0 ? in.past : in.jobs).push_back(std::move(job));
    }
  }
  for (int i = 0; i < 60; ++i) {
    const int64_t opened = in.from_us + i * 6 * kDay;
    in.claims.push_back({opened,
                         opened + i * kDay,
                         i % 2 == 0 ? ClaimState::kPaid : ClaimState::kOpen,
                         i % 4 == 0 ? "1250.50 EUR" : text,
                         {"marks"}});
  }
  for (int i = 0; i < 30; ++i)
    in.standing.devices.push_back({text, std::string(32, 'b'), 1, 1'000'000, std::string(64, 'c')});
  in.standing.request = "old 0\n\n" + std::string(300, 'Q') + "\n";
  return in;
}

}  // namespace fairlead::reports
