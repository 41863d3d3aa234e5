#include "daemon/judge/sentence.h"

#include <fmt/format.h>

#include "daemon/base/time_text.h"
#include "daemon/judge/vocabulary.h"

namespace fairlead::judge {
namespace {

constexpr int kReadablePlaces = 2;

std::string figure(const Outcome& outcome, int64_t stored, Toward toward = Toward::kNearest) {
  const auto factor = unit_factor(outcome.unit, outcome.dimension);
  return format_in_unit(stored, factor.value_or(Rational{1, 1}), kReadablePlaces, toward);
}

// "6.48 km/h (6.31 to 6.65)"; exact values stand alone.
std::string value_words(const Outcome& outcome) {
  const Range& value = outcome.worst.value;
  if (!value.best) return "";
  std::string text = figure(outcome, *value.best);
  if (outcome.dimension != Dimension::kCount) text += " " + outcome.unit;
  if (value.lo && value.hi && *value.lo == *value.hi) return text;
  if (value.lo && value.hi)
    return text +
           fmt::format(" ({} to {})", figure(outcome, *value.lo), figure(outcome, *value.hi));
  if (value.lo) return text + fmt::format(" ({} or more)", figure(outcome, *value.lo));
  return text + (value.hi ? fmt::format(" (at most {})", figure(outcome, *value.hi))
                          : " (it may be any more or less)");
}

std::string margin_words(const Outcome& outcome) {
  const auto& margin = outcome.worst.margin;
  if (!margin.best) return "";
  const bool inside = *margin.best >= 0;
  const int64_t size = inside ? *margin.best : -*margin.best;
  if (size == 0) return ", just at the limit";
  const std::string unit = outcome.dimension != Dimension::kCount ? outcome.unit
                           : size == 1                            ? "item"
                                                                  : "items";
  return fmt::format(", {} {} {}", figure(outcome, size), unit, inside ? "inside" : "outside");
}

std::string evidence_words(const Finding& finding) {
  if (finding.evidence.empty()) return "";
  std::string text = "; record: ";
  for (size_t i = 0; i < finding.evidence.size(); ++i) {
    const Evidence& one = finding.evidence[i];
    const bool same = i != 0 && finding.evidence[i - 1].source == one.source;
    text += fmt::format("{}{}#{}", i == 0 ? "" : ", ", same ? "" : one.source + " ", one.seq);
  }
  return text;
}

// "at most line.rating" has its figure beside it.
std::string limit_words(const Outcome& outcome) {
  if (outcome.limit.empty()) return "";
  std::string text = ", limit " + outcome.limit;
  const bool by_name = outcome.worst.limit &&
                       find_quantity(outcome.limit.substr(outcome.limit.rfind(' ') + 1)) != nullptr;
  if (by_name) text += fmt::format(" ({} {})", figure(outcome, *outcome.worst.limit), outcome.unit);
  return text;
}

// What would have made the rule apply.
struct DidNotHappen {
  std::string operator()(const ComesFirst& form) const {
    const auto edge = fact_event(form.first);
    if (!edge || edge->on) return fmt::format("no {} came", form.then);
    return fmt::format("no {} came, or {} never was before it", form.then, edge->fact);
  }
  std::string operator()(const FollowsWithin& form) const {
    return fmt::format("no {} came", form.after);
  }
  std::string operator()(const StaysUntil& form) const {
    return fmt::format("{} never came to be", form.state);
  }
  std::string operator()(const WaitBetween& form) const {
    return fact_event(form.from)
               ? fmt::format("no {} came while {} was still in force", form.to, form.from)
               : fmt::format("no {} came after {}", form.to, form.from);
  }
  std::string operator()(const NeverTogether& form) const {
    return fmt::format("{}, or {}, never was", form.state, form.with);
  }
  std::string operator()(const EvidencePresent& form) const {
    return fmt::format("no {} came", form.before.empty() ? form.after : form.before);
  }
  std::string operator()(const SourcesAgree& form) const {
    return form.claim.empty() ? fmt::format("'{}' never was", form.phase)
                              : fmt::format("no {} came in '{}'", form.claim, form.phase);
  }
  std::string operator()(const RuleSet&) const { return "none of its rules does"; }
  template <typename InPhase>
  std::string operator()(const InPhase& form) const {
    return fmt::format("'{}' never was", form.phase);
  }
};

std::string not_applying_words(const Outcome& outcome, const Rule& rule) {
  // Excused is not the same as never: how far and how fast is shown.
  if (std::holds_alternative<NeverTogether>(rule.form) && !outcome.remarks.empty())
    return fmt::format("{}", fmt::join(outcome.remarks, "; "));
  std::string text = std::visit(DidNotHappen{}, rule.form);
  if (!rule.while_phase.empty()) text += fmt::format(" within '{}'", rule.while_phase);
  if (!rule.unless.empty()) text += fmt::format(", or {} freed it", rule.unless);
  return text;
}

// The record that would decide it by name, where that is short; else its kind.
std::string deciding_words(const Finding& finding) {
  constexpr size_t kShort = 100;
  std::string general = would_decide_words(finding.reason);
  const std::vector<std::string>& wanted = finding.would_decide;
  if (wanted.empty() || finding.reason == Reason::kNotYet) return general;
  const std::string& first = wanted.front();
  if (first == general || first == kEndedBefore) return first;
  if (first.size() > kShort) return general;
  if (wanted.size() == 1) return first + " would decide it";
  return fmt::format("{} and {} more would decide it", first, wanted.size() - 1);
}

}  // namespace

std::string would_decide_words(Reason reason) {
  switch (reason) {
    case Reason::kNoData:
      return "readings or words for the time that is missing would decide it";
    case Reason::kTooClose:
      return "an instrument with a smaller uncertainty would decide it";
    case Reason::kClockDoubt:
      return "a stated offset between the two clocks, or marks made as each act was done, would "
             "decide it";
    case Reason::kSourcesDisagree:
      return "a check of the sources that contradict each other would decide it";
    case Reason::kNotYet:
      return "the job is not over";
    case Reason::kCutShort:
      return "the source ended before the phase did, its later readings would decide it";
    case Reason::kNone:
      return "";
  }
  return "";
}

std::string sentence_of(const Outcome& outcome, const Finding& finding, const Procedure& procedure,
                        const Rule& rule) {
  const std::string rules = fmt::format("; procedure {} {} ({}..)", procedure.id, procedure.version,
                                        procedure.sha256.substr(0, 4));
  if (finding.applies == Applies::kNo)
    return fmt::format("{} does not apply: {}{}", finding.rule, not_applying_words(outcome, rule),
                       rules);
  std::string text = fmt::format("{} {}", finding.rule, word(finding.verdict));
  if (finding.reason != Reason::kNone) text += fmt::format(" ({})", word(finding.reason));
  if (finding.applies == Applies::kUnknown) {
    text += ": whether it applies is not shown by the record";
  } else {
    const std::string value = value_words(outcome);
    const bool order = outcome.dimension == Dimension::kTime;
    text += ": ";
    if (!value.empty() && !order) text += value + " ";
    text += outcome.worst.words;
    if (outcome.worst.at_us)
      text += fmt::format("{}{}", order ? " " : ", at ",
                          format_time_us(*outcome.worst.at_us).substr(11, 8));
    text += limit_words(outcome);
    text += margin_words(outcome);
  }
  if (finding.basis != Basis::kNone) text += fmt::format("; {}", word(finding.basis));
  for (const std::string& remark : outcome.remarks) text += "; " + remark;
  if (finding.verdict == Verdict::kUnproven) text += "; " + deciding_words(finding);
  text += evidence_words(finding);
  text += finding.settled ? "; settled" : "; provisional";
  return text + rules;
}

}  // namespace fairlead::judge
