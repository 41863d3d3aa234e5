// total_in_phase: a way summed over the phase within one handling, one visit, or the job.
// m = L - total, [lo, best, hi].
#include <fmt/format.h>

#include <algorithm>

#include "daemon/judge/margins.h"
#include "daemon/judge/rolled.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kVisitEndsAfterUs = 30'000'000;  // The truck moves this long: a visit is over.

std::vector<PhaseSpan> visits(JobView& view) {
  std::vector<PhaseSpan> spans;
  PhaseSpan current = view.facts.phase("job").front();
  const Timeline& moving = view.facts.fact("truck.moving");
  for (size_t i = 0; i < moving.changes().size(); ++i) {
    const Change& change = moving.changes()[i];
    if (change.value != Tri::kTrue) continue;
    const int64_t off_us =
        i + 1 < moving.changes().size() ? moving.changes()[i + 1].at.time_us : kForever;
    if (off_us - change.at.time_us < kVisitEndsAfterUs) continue;
    PhaseSpan ended = current;
    ended.close = change.at;
    ended.closed = true;
    if (ended.open.time_us < ended.close.time_us) spans.push_back(ended);
    if (off_us == kForever) return spans;
    current.open = moving.changes()[i + 1].at;
  }
  spans.push_back(current);
  return spans;
}

std::vector<PhaseSpan> groups_of(JobView& view, v1::Per::Span per) {
  if (view.facts.phase("job").empty()) return {};
  if (per == v1::Per::JOB) return view.facts.phase("job");
  if (per == v1::Per::VISIT) return visits(view);
  return view.facts.phase("handling");
}

// Parts of the phase inside one group.
std::vector<PhaseSpan> parts_in(const std::vector<PhaseSpan>& spans, const PhaseSpan& group) {
  std::vector<PhaseSpan> parts;
  for (PhaseSpan span : spans) {
    if (span.close.time_us <= group.open.time_us || span.open.time_us >= group.close.time_us)
      continue;
    if (span.open.time_us < group.open.time_us) span.open = group.open;
    if (span.close.time_us > group.close.time_us) span.close = group.close;
    parts.push_back(span);
  }
  return parts;
}

Range margin_of(const Range& mm, const Range& limit) {
  Range margin;
  if (!limit.best) return margin;
  if (mm.hi) margin.lo = *limit.best - *mm.hi;
  if (mm.best) margin.best = *limit.best - *mm.best;
  if (mm.lo) margin.hi = *limit.best - *mm.lo;
  return margin;
}

// A closing of the phase that may hide: what rolled after it accuses nobody.
void accuse_while_sure(JobView& view, const Rule& rule, const TotalInPhase& form,
                       const std::vector<PhaseSpan>& parts, const Range& limit,
                       Occasion& occasion) {
  std::vector<PhaseSpan> sure;
  std::set<Reason> reasons;
  for (PhaseSpan part : parts) {
    if (const auto may_close = view.facts.may_close(form.phase, rule.while_phase, part)) {
      reasons.insert(may_close->reason);
      part.close.time_us = may_close->from_us;
    }
    if (part.open.time_us < part.close.time_us) sure.push_back(part);
  }
  if (reasons.empty()) return;
  if (occasion.margin.hi && limit.best) {
    const Total least = total_of(view, form.quantity, sure, form.longest_gap_us.value_or(0));
    occasion.margin.hi = *limit.best - least.mm.lo.value_or(0);
  }
  const int64_t edge = form.bounds == Bounds::kUnder ? 1 : 0;
  if (!occasion.margin.lo || *occasion.margin.lo < edge)
    occasion.doubts.insert(reasons.begin(), reasons.end());
}

Occasion occasion_of(JobView& view, const Rule& rule, const TotalInPhase& form,
                     const std::vector<PhaseSpan>& parts) {
  const int64_t hole_us = form.longest_gap_us.value_or(0);
  const Total total = total_of(view, form.quantity, parts, hole_us);
  const Range limit = limit_at(view, form.limit, parts.front().open.time_us);
  Occasion occasion;
  occasion.doubts = total.doubts;
  occasion.value = total.mm;
  occasion.limit = limit.best;
  occasion.margin = margin_of(total.mm, limit);
  if (!limit.best) occasion.doubts.insert(Reason::kNoData);
  accuse_while_sure(view, rule, form, parts, limit, occasion);
  if (occasion.doubts.contains(Reason::kSourcesDisagree) && occasion.margin.hi) {
    // Instruments that contradict each other accuse nobody; 0 is outside an `under`.
    const int64_t inside = form.bounds == Bounds::kUnder ? 1 : 0;
    occasion.margin.hi = std::max(*occasion.margin.hi, inside);
  }
  if (total.by_noise && straddles(occasion.margin) && !straddles(margin_of(*total.by_noise, limit)))
    occasion.doubts.insert(Reason::kClockDoubt);
  if (!parts.back().closed) occasion.doubts.insert(Reason::kNotYet);
  occasion.at_us = parts.back().close.time_us;
  cite(view, parts.front().open, "opens", occasion);
  if (total.last_line != kNoLine)
    occasion.evidence.push_back(evidence_of(view, total.last_line, "critical"));
  cite(view, parts.back().close, "closes", occasion);
  occasion.basis = Basis::kMeasured;
  occasion.words =
      total.origin == "nothing"
          ? fmt::format("in '{}', with neither rope counter nor tag", form.phase)
          : fmt::format("in '{}', by the {}{}", form.phase, total.origin,
                        total.origin == "tag" ? ", noise weighed from its own rests" : "");
  if (!total.mm.best && total.mm.hi) occasion.words += ", at most what that can have drawn";
  if (!total.remark.empty()) occasion.words += "; " + total.remark;
  return occasion;
}

}  // namespace

void judge_form(JobView& view, const Rule& rule, const TotalInPhase& form, Outcomes& out) {
  Outcome outcome{.rule_id = rule.id,
                  .worst = {},
                  .unit = "",
                  .quantity = form.quantity,
                  .limit = "",
                  .limit_stored = {},
                  .listened = view.facts.sources(view.facts.opener(form.phase)),
                  .remarks = {}};
  describe_limit(view, form.limit, form.bounds, outcome);
  const auto& sources = view.quantities.sources(form.quantity);
  outcome.listened.insert(sources.begin(), sources.end());
  const auto stays = within_while(view, rule, view.facts.phase(form.phase));
  const std::vector<PhaseSpan> spans = until_freed(view, rule, stays);
  std::vector<Occasion> occasions;
  for (const PhaseSpan& group : groups_of(view, form.per)) {
    const std::vector<PhaseSpan> parts = parts_in(spans, group);
    if (!parts.empty()) occasions.push_back(occasion_of(view, rule, form, parts));
  }
  conclude_universal(view, rule, outcome, occasions, view.facts.opener(form.phase), form.bounds,
                     hidden_stays(view, rule, form.phase));
  out.push_back(std::move(outcome));
}

}  // namespace fairlead::judge
