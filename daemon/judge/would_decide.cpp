#include "daemon/judge/would_decide.h"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/base/time_text.h"
#include "daemon/judge/built_on.h"
#include "daemon/judge/sentence.h"
#include "daemon/judge/vocabulary.h"

namespace fairlead::judge {
namespace {

constexpr size_t kMost = 8;

std::string clock_words(int64_t time_us) { return format_time_us(time_us).substr(11, 8); }

// Lines known to be missing, or not believed, of the sources it listens to.
void add_gaps(const JobView& view, const Outcome& outcome, std::vector<std::string>& wanted) {
  for (const SourceGap& gap : view.lines.gaps()) {
    if (!outcome.listened.contains(gap.source) || gap.reason != outcome.reason) continue;
    const int64_t from_us = std::max(gap.from_us, view.lines.start_us());
    const std::string until =
        gap.to_us >= kForever ? std::string("the end of the job") : clock_words(gap.to_us);
    wanted.push_back(fmt::format("{} of '{}'{} between {} and {}",
                                 gap.lost ? fmt::format("the {} missing line(s)", *gap.lost)
                                          : std::string("what is unknown"),
                                 gap.source, gap.channel.empty() ? "" : ", " + gap.channel + ",",
                                 clock_words(from_us), until));
  }
}

void add_hole(const std::string& quantity, int64_t from_us, int64_t to_us,
              std::vector<std::string>& wanted) {
  wanted.push_back(fmt::format("readings of {} from {} to {}", quantity, clock_words(from_us),
                               clock_words(to_us)));
}

// The stays of the rule's phase; the whole job where it names none, or none was seen.
std::vector<PhaseSpan> spans_of(JobView& view, const Rule& rule) {
  return std::visit(
      [&](const auto& form) {
        if constexpr (requires { form.phase; }) {
          if (!view.facts.phase(form.phase).empty()) return view.facts.phase(form.phase);
        }
        return view.facts.phase("job");
      },
      rule.form);
}

int64_t longest_hole_us(const Rule& rule) {
  const auto* total = std::get_if<TotalInPhase>(&rule.form);
  return total == nullptr ? 0 : total->longest_gap_us.value_or(0);
}

// Where an instrument behind the rule is silent: one that spoke at least once, or its very own.
void add_silences(JobView& view, const Rule& rule, const Outcome& outcome,
                  std::vector<std::string>& wanted) {
  std::set<std::string> names = built_on(view.procedure, rule);
  const auto* agree = std::get_if<SourcesAgree>(&rule.form);
  if (agree != nullptr) names = {agree->quantity, agree->with};
  for (const std::string& name : names) {
    // A rating comes of the register, not of readings.
    if (find_quantity(name) == nullptr || name == "line.rating" || name == "point.rating") continue;
    const Series& series = view.quantities.series(name, longest_hole_us(rule), 0);
    if (!series.named && agree == nullptr && name != outcome.quantity) continue;
    for (const PhaseSpan& span : spans_of(view, rule)) {
      for (const Hole& hole : series.holes(span.possibly_from(), span.possibly_to())) {
        if (hole.reason == outcome.reason) add_hole(name, hole.from_us, hole.to_us, wanted);
      }
    }
  }
}

// What no line names at all, so that nobody knows whether it was so.
void add_unnamed(JobView& view, const Rule& rule, std::vector<std::string>& wanted) {
  for (const std::string& name : built_on(view.procedure, rule)) {
    if (name.starts_with("phase:") || !fact_event(name + ".on")) continue;
    const Timeline& fact = view.facts.fact(name);
    if (!fact.ever_known() && fact.initial() == Tri::kUnknown)
      wanted.push_back(fmt::format("a word or a reading of {}, which no line names", name));
  }
}

// What a file would have to say.
void add_unwritten(const JobView& view, const Rule& rule, const Outcome& outcome,
                   std::vector<std::string>& wanted) {
  constexpr std::string_view kNoFile = ", which no file gives";
  if (outcome.limit.ends_with(kNoFile))
    wanted.push_back(fmt::format("a file that gives the limit ({})",
                                 outcome.limit.substr(0, outcome.limit.size() - kNoFile.size())));
  if (outcome.limit.ends_with("line.rating"))
    wanted.push_back("a register that rates the winch line and every piece of gear in it");
  if (!std::holds_alternative<EnoughStrength>(rule.form)) return;
  if (!view.parties.mass_g.best) wanted.push_back("the car's mass, as weighed or from its file");
  for (const std::string& remark : outcome.remarks)
    wanted.push_back("what a plate or file says, as " + remark);
}

// A form inside a set that this outcome was taken from decides by its own quantity.
std::string closer_words(const Rule& rule, const Outcome& outcome) {
  if (std::holds_alternative<EnoughStrength>(rule.form))
    return "the mass known closer, or ratings read off the plates";
  if (std::holds_alternative<EvidencePresent>(rule.form))
    return "a place known closer, where the item was made and where the rule counts from";
  if (const auto* form = std::get_if<NeverTogether>(&rule.form))
    return fmt::format("readings that tell {} or {} with a smaller uncertainty", form->state,
                       form->with);
  if (std::holds_alternative<RecheckEvery>(rule.form))
    return "readings of truck.driven with a smaller uncertainty";
  if (const auto* form = std::get_if<SourcesAgree>(&rule.form))
    return fmt::format("readings of {} and {} with a smaller uncertainty", form->quantity,
                       form->with);
  return fmt::format("readings of {} with a smaller uncertainty", outcome.quantity);
}

}  // namespace

std::vector<std::string> would_decide(JobView& view, const Rule& rule, const Outcome& outcome) {
  std::vector<std::string> wanted;
  if (outcome.verdict != Verdict::kUnproven) return wanted;
  add_gaps(view, outcome, wanted);
  for (const HiddenSpan& hole : outcome.holes) {
    if (hole.reason == outcome.reason) add_hole(outcome.quantity, hole.from_us, hole.to_us, wanted);
  }
  const bool silent = outcome.reason == Reason::kNoData || outcome.reason == Reason::kCutShort;
  if (wanted.empty() && silent) add_silences(view, rule, outcome, wanted);
  if (wanted.empty() && outcome.reason == Reason::kNoData) {
    add_unwritten(view, rule, outcome, wanted);
    if (wanted.empty()) add_unnamed(view, rule, wanted);
  }
  if (wanted.size() > kMost) {
    const size_t more = wanted.size() - kMost + 1;
    wanted.resize(kMost - 1);
    wanted.push_back(fmt::format("{} more of the kind", more));
  }
  if (!wanted.empty()) return wanted;
  if (outcome.reason == Reason::kTooClose)
    wanted.push_back(closer_words(rule, outcome));
  else if (outcome.reason == Reason::kCutShort)
    wanted.emplace_back(kEndedBefore);
  else
    wanted.push_back(would_decide_words(outcome.reason));
  return wanted;
}

}  // namespace fairlead::judge
