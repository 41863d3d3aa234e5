// wait_between: at least (or at most) T from A to B (Declare: succession with a time condition).
// H(B -> (not B S[T,inf) A)). m = (t_B - t_A) - T, or T - (t_B - t_A).
//
// The A that counts: a fact's edge must be in force at B, and its last edge counts; of momentary
// A's since the B before, the earliest (at least) or the latest (at most). A B without A is left
// to comes_first. unproven: clock_doubt when two clocks leave it open; no_data when a gap may hide
// an A that would count instead.
#include <fmt/format.h>

#include <utility>

#include "daemon/judge/antecedent.h"
#include "daemon/judge/margins.h"

namespace fairlead::judge {
namespace {

// An A that happened once belongs to the next B: one that hides between would have taken it.
void doubt_if_answered(JobView& view, const Rule& rule, const WaitBetween& form, const Stamp& from,
                       const Stamp& to, Occasion& occasion) {
  if (fact_event(form.from) || !occasion.margin.hi || *occasion.margin.hi >= 0) return;
  for (const HiddenSpan& span : gaps_for(view, rule, form.to)) {
    if (span.from_us >= to.time_us || span.to_us <= from.time_us) continue;
    occasion.margin.hi.reset();
    occasion.doubts.insert(span.reason);
    return;
  }
}

Occasion occasion_of(JobView& view, const Rule& rule, const WaitBetween& form, const Stamp& from,
                     const Stamp& to, const Stamp* last_to) {
  Occasion occasion;
  const bool at_least = form.bounds == Bounds::kAtLeast;
  const bool edge = fact_event(form.from).has_value();
  auto wait = time_from_to(from, to);
  const auto limit = limit_at(view, form.wait, to.time_us).best;
  if (!limit) occasion.doubts.insert(Reason::kNoData);
  if (!wait) occasion.doubts.insert(Reason::kClockDoubt);
  if (limit && wait) {
    const auto margin = [&] { return at_least ? above(*limit, *wait) : below(*limit, *wait); };
    if (straddles(margin())) occasion.doubts.insert(Reason::kClockDoubt);
    const bool may_be_after = wait->lo_us < 0;
    for (const HiddenSpan& span : gaps_for(view, rule, form.from)) {
      const bool between = span.from_us < to.time_us && span.to_us > from.time_us;
      const bool earlier =
          span.from_us < from.time_us && (last_to == nullptr || span.to_us > last_to->time_us);
      // How far from B an A hidden there may lie.
      const int64_t shortest_us = std::max<int64_t>(0, to.time_us - span.to_us);
      const int64_t longest_us = to.time_us - span.from_us;
      if ((edge || !at_least) && between) {
        wait->lo_us = std::min(wait->lo_us, shortest_us);
        occasion.doubts.insert(span.reason);
      }
      if (!edge && at_least && earlier) {
        const int64_t floor_us = last_to == nullptr ? kForever : to.time_us - last_to->time_us;
        wait->hi_us = std::max(wait->hi_us, std::min(longest_us, floor_us));
        occasion.doubts.insert(span.reason);
      }
    }
    occasion.margin = margin();
    if (may_be_after && occasion.margin.hi < 0) {  // Then B waited for none.
      occasion.margin.hi.reset();
      occasion.doubts.insert(Reason::kClockDoubt);
    }
    doubt_if_answered(view, rule, form, from, to, occasion);
    occasion.value = {wait->lo_us, wait->best_us, wait->hi_us};
    occasion.limit = *limit;
  }
  clear_if_inside(occasion);
  doubt_outside(view, rule, to.time_us, occasion);
  occasion.at_us = to.time_us;
  cite(view, from, "opens", occasion);
  cite(view, to, "critical", occasion);
  occasion.words = fmt::format("{} after {}, at", form.to, form.from);
  return occasion;
}

}  // namespace

void judge_form(JobView& view, const Rule& rule, const WaitBetween& form, Outcomes& out) {
  Outcome outcome{.rule_id = rule.id,
                  .worst = {},
                  .dimension = Dimension::kTime,
                  .unit = "s",
                  .quantity = fmt::format("time from {} to {}", form.from, form.to),
                  .limit = "",
                  .limit_stored = {},
                  .listened = view.facts.sources(form.from),
                  .remarks = {}};
  describe_limit(view, form.wait, form.bounds, outcome);
  outcome.unit = "s";
  const auto closers = view.facts.sources(form.to);
  outcome.listened.insert(closers.begin(), closers.end());
  const auto edge = fact_event(form.from);
  std::vector<Occasion> occasions;
  std::set<Reason> hidden;  // Why a B may have waited for an A that nobody saw ...
  const bool own_way_out = rule.unless == form.from;  // ... but for one that frees the rule.
  const Stamp* previous = nullptr;
  for (const Stamp& to : view.facts.events(form.to)) {
    const Stamp* last = std::exchange(previous, &to);
    if (!within_while(view, rule, to.time_us)) continue;
    if (excused(view, rule, to.time_us)) continue;
    const Antecedent first =
        edge ? in_force(view, *edge, form.from, to)
             : since_last(view, form.from, last, to, form.bounds != Bounds::kAtLeast);
    if (first.before == nullptr) {
      if (own_way_out) continue;
      // The next A may have come before this B, as far as their clocks go.
      if (first.after != nullptr) {
        const auto lead = time_from_to(to, *first.after);
        if (!lead || lead->lo_us < 0) hidden.insert(Reason::kClockDoubt);
      }
      hidden.insert(first.doubts.begin(), first.doubts.end());
      continue;
    }
    occasions.push_back(occasion_of(view, rule, form, *first.before, to, last));
  }
  if (occasions.empty()) {
    const auto reasons = hidden_reasons(view, rule, form.to);
    hidden.insert(reasons.begin(), reasons.end());
  } else {
    for (const HiddenSpan& span : hidden_for(view, rule, form.to)) hidden.insert(span.reason);
    worst_of(occasions, Bounds::kAtLeast).doubts.insert(hidden.begin(), hidden.end());
  }
  if (own_way_out && occasions.empty()) hidden.clear();
  doubt_unless(view, rule, occasions, Bounds::kAtLeast);
  conclude_with(outcome, occasions, hidden, Bounds::kAtLeast);
  out.push_back(std::move(outcome));
}

}  // namespace fairlead::judge
