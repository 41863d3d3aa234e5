#include "daemon/judge/judge.h"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/base/time_text.h"
#include "daemon/judge/built_on.h"
#include "daemon/judge/forms.h"
#include "daemon/judge/judge_state.h"
#include "daemon/judge/sentence.h"
#include "daemon/judge/vocabulary.h"
#include "daemon/judge/would_decide.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kMillion = 1'000'000;

Bound bound_of(const Outcome& outcome, const std::optional<int64_t>& stored, Toward toward) {
  if (!stored) return std::nullopt;
  return printed(outcome, *stored, toward);
}

// Settled: the job has ended and nothing the rule listens to is known to be missing.
bool is_settled(const JobLines& lines, const Outcome& outcome) {
  if (lines.closed() == kNoLine) return false;
  return std::none_of(outcome.listened.begin(), outcome.listened.end(),
                      [&](const std::string& source) { return lines.missing_seq(source); });
}

Finding finding_of(JobView& view, const Rule& rule, const Outcome& outcome, bool complete) {
  Finding finding;
  finding.rule = outcome.rule_id;
  finding.applies = outcome.applies;
  finding.verdict = outcome.verdict;
  finding.reason = outcome.reason;
  finding.unit = outcome.unit;
  finding.settled = complete && is_settled(view.lines, outcome);
  finding.procedure_sha256 = view.procedure.sha256;
  finding.register_sha256 = view.rules.register_sha256;
  finding.title = rule.title;
  finding.procedure_id = view.procedure.id;
  finding.origin = rule.origin;
  finding.quantity = outcome.quantity;
  finding.limit = outcome.limit;
  if (outcome.applies == Applies::kYes) {
    finding.basis = outcome.worst.basis;
    finding.margin_lo = bound_of(outcome, outcome.worst.margin.lo, Toward::kDown);
    finding.margin_best = bound_of(outcome, outcome.worst.margin.best, Toward::kNearest);
    finding.margin_hi = bound_of(outcome, outcome.worst.margin.hi, Toward::kUp);
    finding.value_lo = bound_of(outcome, outcome.worst.value.lo, Toward::kDown);
    finding.value_best = bound_of(outcome, outcome.worst.value.best, Toward::kNearest);
    finding.value_hi = bound_of(outcome, outcome.worst.value.hi, Toward::kUp);
    finding.at_us = outcome.worst.at_us;
    finding.evidence = outcome.worst.evidence;
  }
  finding.would_decide = would_decide(view, rule, outcome);
  finding.sentence = sentence_of(outcome, finding, view.procedure, rule);
  for (const Outcome& part : outcome.members)
    finding.members.push_back(finding_of(view, *part.rule, part, complete));
  return finding;
}

// A person's word against a healthy, calibrated instrument: the instrument stands, and that is
// a finding of its own.
Finding contradiction_finding(const JobView& view, const Contradiction& found) {
  Finding finding;
  finding.rule = "word_against_instrument:" + found.fact;
  finding.applies = Applies::kYes;
  finding.verdict = Verdict::kUnproven;
  finding.reason = Reason::kSourcesDisagree;
  finding.basis = Basis::kMeasured;
  finding.at_us = view.lines.line(found.word_line).stamp.time_us;
  finding.evidence = {evidence_of(view, found.instrument_line, "critical"),
                      evidence_of(view, found.word_line, "contradicts")};
  finding.settled = view.lines.closed() != kNoLine;
  finding.procedure_sha256 = view.procedure.sha256;
  finding.register_sha256 = view.rules.register_sha256;
  finding.title = "A word that an instrument contradicts";
  finding.procedure_id = view.procedure.id;
  finding.sentence = fmt::format(
      "{} unproven (sources_disagree): {} said {} at {}, the contact sense did not show it within "
      "5 s either side; "
      "the instrument stands for every rule; record: {} #{}, {} #{}",
      finding.rule, finding.evidence[1].source, found.fact,
      format_time_us(*finding.at_us).substr(11, 8), finding.evidence[0].source,
      finding.evidence[0].seq, finding.evidence[1].source, finding.evidence[1].seq);
  return finding;
}

// A new revision is a finding that says something else; that more lines were read is none.
void number_revision(Finding& finding, const std::map<std::string, Finding>& previous,
                     const std::string& key) {
  const auto before = previous.find(key);
  if (before == previous.end()) return;
  Finding last = before->second;
  last.inputs_sha256 = finding.inputs_sha256;
  finding.revision = last.revision;
  if (finding_to_json(finding) != finding_to_json(last)) ++finding.revision;
}

// A rule built on what equal sources disagree about is neither met nor deviated.
void doubt(const Procedure& procedure, const Rule& rule, const std::set<std::string>& doubted,
           Outcome& outcome) {
  for (Outcome& member : outcome.members) doubt(procedure, *member.rule, doubted, member);
  if (outcome.verdict != Verdict::kMet && outcome.verdict != Verdict::kDeviated) return;
  const std::set<std::string> names = built_on(procedure, rule);
  const bool stands = std::none_of(doubted.begin(), doubted.end(), [&](const std::string& name) {
    const auto edge = fact_event(name);
    return names.contains(edge ? edge->fact : name);
  });
  if (stands) return;
  outcome.verdict = Verdict::kUnproven;
  outcome.reason = Reason::kSourcesDisagree;
  auto& margin = outcome.worst.margin;
  if (margin.lo && *margin.lo >= 0) margin.lo.reset();
  if (margin.hi && *margin.hi < 0) margin.hi.reset();
}

struct Judged {
  Finding finding;
  Outcome outcome;
  const Rule* rule;
};

std::vector<Judged> judge_all(const Rulebook& rulebook, JobState& job, const Options& options) {
  const Rulebook::Content& rules = rulebook.content();
  const std::string digest = hex_of(job.lines.root());
  std::vector<Judged> all;
  for (const Procedure& procedure : rules.procedures) {
    job.facts.use(procedure);
    JobView view{rules,          procedure,   job.lines, job.parties,
                 job.quantities, job.rigging, job.facts, job.kept};
    std::vector<std::pair<const Rule*, Outcome>> judged;
    std::set<std::string> doubted;
    for (const Rule& rule : procedure.rules) {
      Outcomes outcomes;
      std::visit([&](const auto& form) { judge_form(view, rule, form, outcomes); }, rule.form);
      for (Outcome& outcome : outcomes) {
        doubted.insert(outcome.doubted.begin(), outcome.doubted.end());
        judged.emplace_back(&rule, std::move(outcome));
      }
    }
    for (auto& [rule, outcome] : judged) {
      if (!doubted.empty()) doubt(procedure, *rule, doubted, outcome);
      Finding finding = finding_of(view, *rule, outcome, options.complete);
      all.push_back({std::move(finding), std::move(outcome), rule});
    }
    if (&procedure != &rules.procedures.back()) continue;
    for (const Contradiction& found : job.facts.contradictions()) {
      all.push_back({contradiction_finding(view, found), {}, nullptr});
    }
  }
  for (Judged& one : all) one.finding.inputs_sha256 = digest;
  return all;
}

// Past `warn_at` of the limit on its way out from 0; where the way is in, as from 13 V down to a
// least 11 V: at limit / warn_at.
bool is_near(const Rule& rule, int64_t value, int64_t limit) {
  const auto* in_phase = std::get_if<LimitInPhase>(&rule.form);
  const auto* count = std::get_if<CountLimit>(&rule.form);
  const bool least = (in_phase != nullptr && in_phase->bounds == Bounds::kAtLeast) ||
                     (count != nullptr && count->kind == CountLimit::Kind::kAtLeast) ||
                     std::holds_alternative<EnoughStrength>(rule.form) ||
                     std::holds_alternative<EvidencePresent>(rule.form);
  const auto scaled = [](int64_t number, int64_t ppm) {
    return static_cast<__int128>(number) * ppm;
  };
  const int64_t ppm = *rule.warn_at_ppm;
  if (least)
    return limit < 0 ? scaled(value, kMillion) <= scaled(limit, ppm)
                     : scaled(value, ppm) <= scaled(limit, kMillion);
  return limit < 0 ? scaled(value, ppm) >= scaled(limit, kMillion)
                   : scaled(value, kMillion) >= scaled(limit, ppm);
}

std::vector<Finding> findings_of(std::vector<Judged> all, const Options& options) {
  std::vector<Finding> findings;
  findings.reserve(all.size());
  for (Judged& one : all) {
    number_revision(one.finding, options.previous, finding_key(one.finding));
    findings.push_back(std::move(one.finding));
  }
  return findings;
}

std::vector<LiveWarning> warnings_of(const std::vector<Judged>& all, int64_t now_us) {
  std::vector<LiveWarning> warnings;
  for (const Judged& one : all) {
    if (one.rule == nullptr || one.outcome.applies != Applies::kYes) continue;
    const bool deviated = one.outcome.verdict == Verdict::kDeviated;
    const Occasion& worst = one.outcome.worst;
    bool near = false;
    const auto limit = worst.limit ? worst.limit : one.outcome.limit_stored;
    if (one.rule->warn_at_ppm && limit && worst.value.best &&
        one.outcome.dimension != Dimension::kTime) {
      near = is_near(*one.rule, *worst.value.best, *limit);
    }
    if (!deviated && !near) continue;
    const std::string value =
        worst.value.best
            ? fmt::format(" {} {}", printed(one.outcome, *worst.value.best, Toward::kNearest),
                          one.outcome.unit)
            : "";
    warnings.push_back({one.finding.rule,
                        fmt::format("{}:{}, limit {}", one.rule->title, value, one.outcome.limit),
                        worst.at_us.value_or(now_us), deviated});
  }
  return warnings;
}

Judgement judgement_of(const Rulebook& rulebook, std::span<const v1::Observation> lines,
                       const Options& options) {
  std::vector<v1::Observation> only_known;
  if (options.now_us) {
    std::ranges::copy_if(lines, std::back_inserter(only_known), [&](const v1::Observation& line) {
      return parse_time_us(line.time()).value_or(0) <= *options.now_us;
    });
    lines = only_known;
  }
  JobState state(rulebook.content(), lines, options.job);
  return judgement_of(rulebook, state, options.now_us.value_or(0), options);
}

}  // namespace

std::vector<std::string> procedure_ids(const Rulebook& rulebook) {
  std::vector<std::string> ids;
  for (const Procedure& procedure : rulebook.content().procedures) ids.push_back(procedure.id);
  return ids;
}

std::string finding_key(const Finding& finding) {
  return finding.procedure_id + "/" + finding.rule;
}

Judgement judgement_of(const Rulebook& rulebook, JobState& state, int64_t now_us,
                       const Options& options) {
  std::vector<Judged> all = judge_all(rulebook, state, options);
  Judgement judgement;
  judgement.warnings = warnings_of(all, now_us);
  judgement.findings = findings_of(std::move(all), options);
  return judgement;
}

std::vector<Finding> judge_job(const Rulebook& rulebook, std::span<const v1::Observation> lines,
                               const Options& options) {
  return judgement_of(rulebook, lines, options).findings;
}

std::vector<LiveWarning> live_warnings(const Rulebook& rulebook,
                                       std::span<const v1::Observation> lines, int64_t now_us,
                                       const std::string& job) {
  return judgement_of(rulebook, lines,
                      {.now_us = now_us, .previous = {}, .job = job, .complete = true})
      .warnings;
}

}  // namespace fairlead::judge
