// count_limit: at most, exactly or at least n events in P, each stay of P for itself (Declare:
// absence(n+1), exactly(n), existence(n)). m = n - count, -|count - n|, or count - n, in items.
//
// met and deviated: surely so for every count the clocks and gaps leave open; "at most" is
// condemned by n + 1 sure events though the phase is open. unproven: no_data when a gap may hide
// events; clock_doubt when an event may lie in or out of the phase; not_yet while it is open.
#include <fmt/format.h>

#include "daemon/judge/instrument_boost.h"
#include "daemon/judge/margins.h"
#include "daemon/judge/vocabulary.h"

namespace fairlead::judge {
namespace {

using Kind = CountLimit::Kind;

struct Count {
  int64_t surely = 0, best = 0;
  std::optional<int64_t> possibly = 0;  // Absent: any number may hide.
  std::set<Reason> doubts;
  std::vector<const Stamp*> events;
};

// Whether the event is one that instruments alone tell, and none had spoken yet: nobody counted.
bool unseen_so_far(JobView& view, const std::string& event, const PhaseSpan& span) {
  const auto edge = fact_event(event);
  if (!edge || (!is_boost_reading(edge->fact) && edge->fact != "line.pulling")) return false;
  const Timeline& fact = view.facts.fact(edge->fact);
  return fact.initial() == Tri::kUnknown &&
         (fact.changes().empty() || fact.changes().front().at.time_us > span.possibly_from());
}

Count count_in(JobView& view, const Rule& rule, const CountLimit& form, const PhaseSpan& span) {
  Count count;
  const auto may_close = view.facts.may_close(form.phase, rule.while_phase, span);
  const int64_t same_stay_until = may_close ? may_close->from_us : kForever;
  for (const Stamp& event : view.facts.events(form.event)) {
    const auto in = time_from_to(span.open, event);
    const auto out = time_from_to(event, span.close);
    // What comes with a phase's end is no longer in it, but for one that is still open.
    const int64_t least = span.closed ? 1 : 0;
    const bool surely =
        in && out && in->lo_us >= 0 && out->lo_us >= least && event.time_us < same_stay_until;
    const bool possibly = !in || !out || (in->hi_us >= 0 && out->hi_us >= least);
    if (!possibly) continue;
    ++*count.possibly;
    count.surely += surely;
    if (!surely) count.doubts.insert(Reason::kClockDoubt);
    if (event.time_us < span.open.time_us || event.time_us > span.close.time_us - least) continue;
    ++count.best;
    count.events.push_back(&event);
  }
  for (const HiddenSpan& hidden : gaps_for(view, rule, form.event)) {
    if (hidden.to_us <= span.possibly_from() || hidden.from_us >= span.possibly_to()) continue;
    count.possibly.reset();
    count.doubts.insert(hidden.reason);
  }
  if (unseen_so_far(view, form.event, span)) {
    count.possibly.reset();
    count.doubts.insert(Reason::kNoData);
  }
  if (!span.closed) {
    count.possibly.reset();
    count.doubts.insert(Reason::kNotYet);
  }
  return count;
}

// -|count - n| over [surely, possibly].
Range exactly(const Count& count, int64_t n) {
  const auto off = [&](int64_t number) { return number > n ? n - number : number - n; };
  Range margin{std::nullopt, off(count.best), 0};
  if (count.possibly) margin.lo = std::min(off(count.surely), off(*count.possibly));
  if (count.surely > n) margin.hi = n - count.surely;
  if (count.possibly && *count.possibly < n) margin.hi = *count.possibly - n;
  return margin;
}

Range margin_of(const Count& count, const CountLimit& form) {
  const int64_t n = form.number;
  if (form.kind == Kind::kExactly) return exactly(count, n);
  if (form.kind == Kind::kAtLeast) {
    Range margin{count.surely - n, count.best - n, std::nullopt};
    if (count.possibly) margin.hi = *count.possibly - n;
    return margin;
  }
  Range margin{std::nullopt, n - count.best, n - count.surely};
  if (count.possibly) margin.lo = n - *count.possibly;
  return margin;
}

Occasion occasion_of(JobView& view, const Rule& rule, const CountLimit& form,
                     const PhaseSpan& span) {
  const Count count = count_in(view, rule, form, span);
  Occasion occasion;
  occasion.margin = margin_of(count, form);
  occasion.value = {count.surely, count.best, count.possibly};
  occasion.doubts = count.doubts;
  clear_if_inside(occasion);
  occasion.limit = form.number;
  // The event one too many condemns; else the phase's end.
  const auto n = static_cast<size_t>(form.number);
  const bool too_many = form.kind != Kind::kAtLeast && count.events.size() > n;
  const Stamp* critical = too_many                ? count.events[n]
                          : !count.events.empty() ? count.events.back()
                                                  : nullptr;
  occasion.at_us = too_many ? critical->time_us : span.close.time_us;
  cite(view, span.open, "opens", occasion);
  if (critical != nullptr) cite(view, *critical, "critical", occasion);
  if (span.closed && !too_many) cite(view, span.close, "closes", occasion);
  occasion.words = fmt::format("{} in '{}'", form.event, form.phase);
  return occasion;
}

}  // namespace

void judge_form(JobView& view, const Rule& rule, const CountLimit& form, Outcomes& out) {
  const char* word = form.kind == Kind::kAtMost    ? "at most"
                     : form.kind == Kind::kExactly ? "exactly"
                                                   : "at least";
  Outcome outcome{.rule_id = rule.id,
                  .worst = {},
                  .dimension = Dimension::kCount,
                  .unit = "items",
                  .quantity = form.event,
                  .limit = fmt::format("{} {}", word, form.number),
                  .limit_stored = form.number,
                  .listened = view.facts.sources(view.facts.opener(form.phase)),
                  .remarks = {}};
  const auto counted = view.facts.sources(form.event);
  outcome.listened.insert(counted.begin(), counted.end());
  std::vector<Occasion> occasions;
  std::set<Reason> hidden = hidden_stays(view, rule, form.phase);
  for (const PhaseSpan& span : within_while(view, rule, view.facts.phase(form.phase))) {
    Occasion occasion = occasion_of(view, rule, form, span);
    if (!excused(view, rule, *occasion.at_us))
      occasions.push_back(std::move(occasion));
    else if (form.kind != Kind::kAtLeast)  // One too many may hide before the rule was freed.
      add_hidden_between(view, rule, form.event, span.possibly_from(), hidden);
  }
  conclude_universal(view, rule, outcome, occasions, view.facts.opener(form.phase),
                     Bounds::kAtLeast, hidden);
  out.push_back(std::move(outcome));
}

}  // namespace fairlead::judge
