// comes_first: A before B (Declare: precedence; with `each`, alternate precedence).
// H(B -> O A); each: H(B -> Y(not B S A)); A that can be undone must be in force at B.
#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "daemon/base/time_text.h"
#include "daemon/judge/antecedent.h"
#include "daemon/judge/margins.h"

namespace fairlead::judge {
namespace {

// Whether the fact had been on before `then`, so that somebody could have put it off; if that is
// open, why.
struct OnBefore {
  Tri was;
  Reason why = Reason::kNone;
};

// Whether it may have come in a gap, rather than be unsure by its clock.
bool dated_back(const JobView& view, const Stamp& stamp) {
  return stamp.line != kNoLine && stamp.early_us > view.lines.line(stamp.line).stamp.early_us;
}

OnBefore on_before(JobView& view, const FactEvent& edge, const Stamp& then) {
  const Timeline& fact = view.facts.fact(edge.fact);
  if (fact.initial() == Tri::kTrue) return {Tri::kTrue};
  std::set<Reason> doubts;
  for (const Stamp& on : view.facts.events(edge.fact + ".on")) {
    const auto lead = time_from_to(on, then);
    if (lead && lead->lo_us >= 0) return {Tri::kTrue};
    if (lead && lead->hi_us < 0) continue;
    const bool after_gap = dated_back(view, on) || dated_back(view, then);
    doubts.insert(after_gap ? Reason::kNoData : Reason::kClockDoubt);
  }
  // Unknown at the opening by want of a word is no gap.
  for (const HiddenSpan& span : view.facts.hidden_in_gaps(edge.fact + ".on")) {
    if (span.from_us <= then.time_us) doubts.insert(span.reason);
  }
  return {doubts.empty() ? Tri::kFalse : Tri::kUnknown, first_reason(doubts)};
}

// What was so at the opening, and never otherwise up to `then`, is in force since then at least.
bool since_opening(JobView& view, const FactEvent& edge, const Stamp& then) {
  const Timeline& fact = view.facts.fact(edge.fact);
  return edge.on && fact.initial() == Tri::kTrue && view.lines.opened() != kNoLine &&
         std::none_of(fact.changes().begin(), fact.changes().end(), [&](const Change& change) {
           const auto lead = time_from_to(change.at, then);
           return (!lead || lead->hi_us >= 0) && change.value != Tri::kTrue;
         });
}

// Why `then` may have been earlier than it was seen: what hides its fact, or else a clock.
Reason why_earlier(JobView& view, const std::string& event, const Stamp& then) {
  const auto edge = fact_event(event);
  const Reason hidden =
      edge ? view.facts.fact(edge->fact).unknown_reason(then.time_us - then.early_us, then.time_us)
           : Reason::kNone;
  return hidden == Reason::kNone ? Reason::kClockDoubt : hidden;
}

// `then` may have been earlier, when the first was in force.
void doubt_if_earlier(JobView& view, const ComesFirst& form, const FactEvent& edge,
                      const Stamp& then, Occasion& occasion) {
  const Timeline& fact = view.facts.fact(edge.fact);
  const int64_t from_us = then.time_us - then.early_us;
  const auto in_force = [&](Tri value) {
    return value == Tri::kUnknown || (value == Tri::kTrue) == edge.on;
  };
  const auto& changes = fact.changes();
  const bool maybe =
      then.early_us > 0 && (in_force(fact.at(from_us)) ||
                            std::any_of(changes.begin(), changes.end(), [&](const Change& change) {
                              return change.at.time_us > from_us &&
                                     change.at.time_us < then.time_us && in_force(change.value);
                            }));
  if (!maybe) return;
  occasion.doubts.insert(why_earlier(view, form.then, then));
  occasion.margin = occasion.value = {};
}

// The line by which it was on at all, so that it could go off.
void cite_on(JobView& view, const FactEvent& edge, const Stamp& then, Occasion& occasion) {
  const Stamp* last = nullptr;
  for (const Stamp& on : view.facts.events(edge.fact + ".on")) {
    if (on.time_us <= then.time_us) last = &on;
  }
  if (last != nullptr) cite(view, *last, "opens", occasion);
}

Occasion occasion_of(JobView& view, const ComesFirst& form, const Stamp& then,
                     const Antecedent& first) {
  Occasion occasion;
  occasion.at_us = then.time_us;
  occasion.doubts = first.doubts;
  const Stamp* other = first.before != nullptr ? first.before : first.after;
  if (other != nullptr && first.doubts.empty()) {
    cite(view, *other, first.before != nullptr ? "opens" : "contradicts", occasion);
    const auto between = time_from_to(*other, then);
    if (between) {
      occasion.margin = above(form.min_gap_us, *between);
      if (straddles(occasion.margin)) occasion.doubts.insert(Reason::kClockDoubt);
    } else {
      occasion.doubts.insert(Reason::kClockDoubt);
      occasion.margin.best = then.time_us - other->time_us - form.min_gap_us;
    }
    occasion.value = occasion.margin;
  }
  cite(view, then, "critical", occasion);
  return occasion;
}

}  // namespace

void judge_form(JobView& view, const Rule& rule, const ComesFirst& form, Outcomes& out) {
  Outcome outcome{.rule_id = rule.id,
                  .worst = {},
                  .dimension = Dimension::kTime,
                  .unit = "s",
                  .quantity = fmt::format("{} before {}", form.first, form.then),
                  .limit = "",
                  .limit_stored = form.min_gap_us,
                  .listened = view.facts.sources(form.first),
                  .remarks = {}};
  outcome.limit = form.min_gap_us == 0 ? fmt::format("{} before {}", form.first, form.then)
                                       : fmt::format("{} at least {} before {}", form.first,
                                                     span_words(form.min_gap_us), form.then);
  const auto then_sources = view.facts.sources(form.then);
  outcome.listened.insert(then_sources.begin(), then_sources.end());

  const auto edge = fact_event(form.first);
  // F.off counts only if F was on earlier in the job, before that `then`.
  const bool never_on = edge && !edge->on && view.facts.events(edge->fact + ".on").empty() &&
                        view.facts.fact(edge->fact).initial() != Tri::kTrue;
  bool came = false;  // A `then` that the rule is about.
  std::vector<Occasion> occasions;
  std::set<Reason> unsure;          // Why a `then` that would deviate may be none of the rule's.
  const Stamp* previous = nullptr;  // Any `then`, judged or not: a first belongs to the next one.
  for (const Stamp& then : view.facts.events(form.then)) {
    const Stamp* last = std::exchange(previous, &then);
    if (!within_while(view, rule, then.time_us) || excused(view, rule, then.time_us)) continue;
    came = true;
    if (never_on) continue;
    const OnBefore on = edge && !edge->on ? on_before(view, *edge, then) : OnBefore{Tri::kTrue};
    if (on.was == Tri::kFalse) continue;
    Antecedent first;
    if (edge && !form.ever && since_opening(view, *edge, then))
      first.before = &view.lines.line(view.lines.opened()).stamp;
    else if (edge && !form.ever)
      first = in_force(view, *edge, form.first, then);
    else
      first = since_last(view, form.first, form.ever ? nullptr : last, then, false);
    Occasion occasion = occasion_of(view, form, then, first);
    if (edge && !edge->on) cite_on(view, *edge, then, occasion);
    if (first.before == nullptr && first.after == nullptr && first.doubts.empty()) {
      // No `first` at all: outside by an unknown amount once the record is complete.
      if (view.lines.closed() == kNoLine)
        occasion.doubts.insert(Reason::kNotYet);
      else
        occasion.margin = {std::nullopt, std::nullopt, -1};
      occasion.words = fmt::format("no {} came before", form.first);
    }
    if (first.before == nullptr && first.doubts.empty() && edge && !form.ever)
      doubt_if_earlier(view, form, *edge, then, occasion);
    doubt_outside(view, rule, then.time_us, occasion);
    const bool open =
        first.by_clock || verdict_of(occasion, Bounds::kAtLeast) == Verdict::kDeviated;
    if (on.was == Tri::kUnknown && open) {
      unsure.insert(on.why);
      continue;
    }
    occasions.push_back(std::move(occasion));
  }
  // Never on as far as is known: applies no, or unknown where a gap may hide that it was.
  conclude_universal(view, rule, outcome, occasions, never_on && came ? form.first : form.then,
                     Bounds::kAtLeast, unsure);
  if (outcome.worst.words.empty()) outcome.worst.words = fmt::format("{} at", form.then);
  // The margin of an order that nothing healed has no number.
  if (outcome.worst.margin.hi == -1 && !outcome.worst.margin.best)
    outcome.worst.margin.hi = std::nullopt;
  out.push_back(std::move(outcome));
}

}  // namespace fairlead::judge
