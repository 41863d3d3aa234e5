#include "daemon/judge/sentence.h"

#include <fmt/format.h>

#include "daemon/base/time_text.h"

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
  return text + fmt::format(" ({} to {})", value.lo ? figure(outcome, *value.lo) : "unbounded",
                            value.hi ? figure(outcome, *value.hi) : "unbounded");
}

std::string margin_words(const Outcome& outcome) {
  const auto& margin = outcome.worst.margin;
  if (!margin.best) return "";
  const bool inside = *margin.best >= 0;
  const int64_t size = inside ? *margin.best : -*margin.best;
  const std::string unit = outcome.dimension == Dimension::kCount ? "items" : outcome.unit;
  return fmt::format(", {} {} {}", figure(outcome, size), unit, inside ? "inside" : "outside");
}

std::string evidence_words(const Finding& finding) {
  if (finding.evidence.empty()) return "";
  std::string text = finding.evidence.size() == 1 ? "; line " : "; lines ";
  for (size_t i = 0; i < finding.evidence.size(); ++i) {
    text += fmt::format("{}{} {}", i == 0 ? "" : ", ", finding.evidence[i].source,
                        finding.evidence[i].seq);
  }
  return text;
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

std::string sentence_of(const Outcome& outcome, const Finding& finding,
                        const Procedure& procedure) {
  const std::string rules = fmt::format("; procedure {} {} ({}..)", procedure.id, procedure.version,
                                        procedure.sha256.substr(0, 4));
  if (finding.applies == Applies::kNo)
    return fmt::format("{} does not apply: {}{}", finding.rule, "what it judges did not happen",
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
    if (!outcome.limit.empty()) text += fmt::format(", limit {}", outcome.limit);
    text += margin_words(outcome);
  }
  if (finding.basis != Basis::kNone) text += fmt::format("; {}", word(finding.basis));
  for (const std::string& remark : outcome.remarks) text += "; " + remark;
  if (finding.verdict == Verdict::kUnproven) text += "; " + would_decide_words(finding.reason);
  text += evidence_words(finding);
  text += finding.settled ? "; settled" : "; provisional";
  return text + rules;
}

}  // namespace fairlead::judge
