// comes_first: A before B (Declare: precedence; with `each`, alternate precedence).
// H(B -> O A); each: H(B -> Y(not B S A)); A that can be undone must be in force at B.
#include <fmt/format.h>

#include "daemon/judge/forms.h"

namespace fairlead::judge {
namespace {

// The `first` that counts for this `then`, and what stands against it.
struct Antecedent {
  const Stamp* before = nullptr;  // In force or seen before.
  const Stamp* after = nullptr;   // Else the next one after, for how far the order was reversed.
  std::set<Reason> doubts;
};

const Stamp* next_after(const std::vector<Stamp>& stamps, int64_t time_us) {
  for (const Stamp& stamp : stamps) {
    if (stamp.time_us > time_us) return &stamp;
  }
  return nullptr;
}

// A fact's edge: the fact must be so at `then`; its last edge is the time that counts.
Antecedent in_force(JobView& view, const FactEvent& edge, const std::string& name,
                    const Stamp& then) {
  Antecedent found;
  const Timeline& fact = view.facts.fact(edge.fact);
  const std::vector<Stamp>& stamps = view.facts.events(name);
  // At one instant the lines' own order decides what was so.
  const Tri now = fact.at(then.time_us);
  if (now == Tri::kUnknown) {
    found.doubts.insert(fact.unknown_reason(then.time_us, then.time_us + 1));
    return found;
  }
  if ((now == Tri::kTrue) == edge.on) {
    for (const Stamp& stamp : stamps) {
      if (stamp.time_us <= then.time_us) found.before = &stamp;
    }
    if (found.before != nullptr) return found;
    // It is so, without a seen edge: a gap before may hide that edge.
    for (const Change& change : fact.changes()) {
      if (change.at.time_us >= then.time_us) break;
      if (change.value == Tri::kUnknown) {
        found.doubts.insert(change.why_unknown == Reason::kNone ? Reason::kNoData
                                                                : change.why_unknown);
      }
    }
  }
  found.after = next_after(stamps, then.time_us);
  return found;
}

// Whether the fact had surely not been on yet: nobody could have put it off before `then`.
bool never_on_before(JobView& view, const FactEvent& edge, const Stamp& then) {
  for (const Stamp& on : view.facts.events(edge.fact + ".on")) {
    const auto lead = time_from_to(on, then);
    if (!lead || lead->hi_us >= 0) return false;
  }
  return !view.facts.fact(edge.fact).unknown_within(view.lines.start_us(), then.time_us + 1);
}

// A momentary first: the earliest since the last `then` (with `ever`: of the whole job).
Antecedent since_last(JobView& view, const std::string& name, const Stamp* last_then,
                      const Stamp& then, bool ever) {
  Antecedent found;
  const std::vector<Stamp>& stamps = view.facts.events(name);
  const int64_t from_us = ever || last_then == nullptr ? kBeginning : last_then->time_us;
  for (const Stamp& stamp : stamps) {
    if (stamp.time_us > from_us && stamp.time_us <= then.time_us && found.before == nullptr)
      found.before = &stamp;
  }
  if (found.before != nullptr) return found;
  for (const HiddenSpan& span : view.facts.hidden(name)) {
    if (span.to_us > from_us && span.from_us < then.time_us) found.doubts.insert(span.reason);
  }
  found.after = next_after(stamps, then.time_us);
  return found;
}

Occasion occasion_of(JobView& view, const ComesFirst& form, const Stamp& then,
                     const Antecedent& first) {
  Occasion occasion;
  occasion.at_us = then.time_us;
  occasion.basis = then.basis;
  occasion.doubts = first.doubts;
  const Stamp* other = first.before != nullptr ? first.before : first.after;
  if (other != nullptr && first.doubts.empty()) {
    if (other->line != kNoLine)
      occasion.evidence.push_back(
          evidence_of(view, other->line, first.before != nullptr ? "opens" : "contradicts"));
    occasion.basis = weaker(occasion.basis, other->basis);
    const auto between = time_from_to(*other, then);
    if (between) {
      occasion.margin = {between->lo_us - form.min_gap_us, between->best_us - form.min_gap_us,
                         between->hi_us - form.min_gap_us};
      if (*occasion.margin.lo < 0 && *occasion.margin.hi >= 0)
        occasion.doubts.insert(Reason::kClockDoubt);
    } else {
      occasion.doubts.insert(Reason::kClockDoubt);
      occasion.margin.best = then.time_us - other->time_us - form.min_gap_us;
    }
    occasion.value = occasion.margin;
  }
  if (then.line != kNoLine) occasion.evidence.push_back(evidence_of(view, then.line, "critical"));
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
  outcome.limit = form.min_gap_us == 0
                      ? fmt::format("{} before {}", form.first, form.then)
                      : fmt::format("{} at least {} s before {}", form.first,
                                    printed(outcome, form.min_gap_us, Toward::kNearest), form.then);
  const auto then_sources = view.facts.sources(form.then);
  outcome.listened.insert(then_sources.begin(), then_sources.end());

  const auto edge = fact_event(form.first);
  // F.off counts only if F was on earlier in the job, before that `then`.
  const bool never_on = edge && !edge->on && view.facts.events(edge->fact + ".on").empty();
  std::vector<Occasion> occasions;
  bool any_excused = false;
  const Stamp* last = nullptr;
  for (const Stamp& then : view.facts.events(form.then)) {
    if (never_on || !within_while(view, rule, then.time_us)) continue;
    if (edge && !edge->on && never_on_before(view, *edge, then)) continue;
    if (excused(view, rule, then.time_us)) {
      any_excused = true;
      continue;
    }
    Antecedent first;
    if (edge && !form.ever)
      first = in_force(view, *edge, form.first, then);
    else
      first = since_last(view, form.first, last, then, form.ever);
    Occasion occasion = occasion_of(view, form, then, first);
    if (first.before == nullptr && first.after == nullptr && first.doubts.empty()) {
      // No `first` at all: outside by an unknown amount once the record is complete.
      if (view.lines.closed() == kNoLine)
        occasion.doubts.insert(Reason::kNotYet);
      else
        occasion.margin = {std::nullopt, std::nullopt, -1};
      occasion.words = fmt::format("no {} came before", form.first);
    }
    occasions.push_back(std::move(occasion));
    last = &then;
  }
  // Never on as far as is known: applies no, or unknown where a gap may hide that it was.
  conclude_universal(view, outcome, occasions, never_on ? form.first : form.then, Bounds::kAtLeast,
                     any_excused);
  if (outcome.worst.words.empty()) outcome.worst.words = fmt::format("{} at", form.then);
  // The margin of an order that nothing healed has no number.
  if (outcome.worst.margin.hi == -1 && !outcome.worst.margin.best)
    outcome.worst.margin.hi = std::nullopt;
  out.push_back(std::move(outcome));
}

}  // namespace fairlead::judge
