// recheck_every: a check after at most D driven or T elapsed, whichever comes first, the first one
// within D0 or T0, as long as P lasts (Declare: alternate response with a metric clock).
// H(P -> O[0,T](check or start P)), the same on a distance clock. m = D - driven or T - elapsed:
// both are kept, the tightest by its share of the limit is shown.
//
// Each check ends a leg and starts the next; the last leg ends with the phase. Parked time stops
// the time clock unless parked_counts. unproven: no_data when the speed has a hole that may hide
// too long a way, or a gap may hide a check; too_close within the noise of the distance.
#include <fmt/format.h>

#include <algorithm>

#include "daemon/judge/margins.h"
#include "daemon/judge/rolled.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

// Whether the truck surely stood all the time from `from` to `to`.
bool stood_still(JobView& view, const Stamp& from, const Stamp& to) {
  const Timeline& moving = view.facts.fact("truck.moving");
  // In one instant nothing is driven, also where the truck starts just then.
  if (from.time_us == to.time_us && moving.at(from.time_us) != moving.at(from.time_us - 1))
    return true;
  if (moving.at(from.time_us) != Tri::kFalse) return false;
  return std::none_of(moving.changes().begin(), moving.changes().end(), [&](const Change& change) {
    return change.at.time_us > from.time_us && change.at.time_us < to.time_us;
  });
}

struct Leg {
  Stamp from, to;
  bool first, checked, over;
  bool from_check = false;
  bool may_be_later = false;  // The phase, first seen after a gap, may have begun in it.
};

// A check before the truck has moved at all, also in the instant it starts in, is one at the start:
// the leg after it is the first.
std::vector<Leg> legs_of(JobView& view, const RecheckEvery& form, const PhaseSpan& span) {
  std::vector<Leg> legs;
  Leg leg{span.open, span.close, true, false, span.closed};
  leg.may_be_later = span.open.early_us > 0;
  for (const Stamp& check : view.facts.events(form.check)) {
    if (check.time_us < span.open.time_us || check.time_us >= span.close.time_us) continue;
    legs.push_back({leg.from, check, leg.first, true, true, leg.from_check, leg.may_be_later});
    leg.from_check = true;
    leg.first = leg.first && !form.parked_counts && stood_still(view, leg.from, check);
    leg.from = check;
  }
  legs.push_back(leg);
  return legs;
}

struct Measured {
  Range value;
  std::set<Reason> doubts;
};

// Time of the leg, less what the truck surely (or possibly) stood.
Measured elapsed(JobView& view, const RecheckEvery& form, const Stamp& from, const Stamp& to) {
  Measured time;
  const auto whole = time_from_to(from, to);
  if (!whole) {
    time.doubts.insert(Reason::kClockDoubt);
    time.value.best = to.time_us - from.time_us;
    return time;
  }
  int64_t stood = 0, may_have_stood = 0;
  const Timeline& moving = view.facts.fact("truck.moving");
  const auto count = [&](Tri value, int64_t since, int64_t until) {
    const int64_t length = std::min(until, to.time_us) - std::max(since, from.time_us);
    if (length <= 0) return;
    if (value == Tri::kFalse) stood += length;
    if (value == Tri::kUnknown) may_have_stood += length;
  };
  int64_t since = kBeginning;
  Tri value = moving.initial();
  for (const Change& change : moving.changes()) {
    count(value, since, change.at.time_us);
    since = change.at.time_us;
    value = change.value;
  }
  count(value, since, kForever);
  if (form.parked_counts) stood = may_have_stood = 0;
  if (may_have_stood > 0) time.doubts.insert(Reason::kNoData);
  if (whole->lo_us != whole->hi_us) time.doubts.insert(Reason::kClockDoubt);
  time.value = {std::max<int64_t>(0, whole->lo_us - stood - may_have_stood), whole->best_us - stood,
                whole->hi_us - stood};
  return time;
}

Measured measure(JobView& view, const RecheckEvery& form, bool by_way, const Stamp& from,
                 const Stamp& to) {
  if (!by_way) return elapsed(view, form, from, to);
  const Total way = total_of(view, "truck.driven", {PhaseSpan{from, to, true}}, 0);
  Measured found{way.mm, way.doubts};
  if (way.by_noise) found.doubts.insert(Reason::kClockDoubt);
  return found;
}

struct Candidate {
  Occasion occasion;
  const Limit* limit;
};

// Where a check, or an end of the phase, may hide.
std::vector<HiddenSpan> cuts_of(JobView& view, const Rule& rule, const RecheckEvery& form) {
  std::vector<HiddenSpan> cuts = gaps_for(view, rule, form.check);
  for (const std::string& id : {form.phase, rule.while_phase}) {
    const Phase* phase = view.procedure.phase(id);
    if (phase == nullptr) continue;
    const auto ends = gaps_for(view, rule, phase->closes);
    cuts.insert(cuts.end(), ends.begin(), ends.end());
  }
  std::stable_sort(cuts.begin(), cuts.end(),
                   [](const HiddenSpan& a, const HiddenSpan& b) { return a.from_us < b.from_us; });
  return cuts;
}

// One leg against one of its two limits; nullopt without such a limit.
std::optional<Candidate> judge_leg(JobView& view, const Rule& rule, const RecheckEvery& form,
                                   const Leg& leg, bool by_way) {
  const auto& every = by_way ? form.distance : form.time;
  const auto& first = by_way ? form.first_distance : form.first_time;
  const auto& in_force = leg.first && first ? first : every;
  if (!in_force) return std::nullopt;
  Candidate candidate{{}, &*in_force};
  Occasion& occasion = candidate.occasion;
  const auto limit = limit_at(view, *in_force, leg.from.time_us).best;
  // The limit that accuses: of a first leg that may be a later one the more lenient.
  std::optional<int64_t> accusing = limit;
  const bool unsure = leg.first && first && leg.may_be_later;
  if (unsure) {
    const auto later = every ? limit_at(view, *every, leg.from.time_us).best : std::nullopt;
    accusing = limit && later ? std::optional(std::max(*limit, *later)) : std::nullopt;
  }
  const Measured whole = measure(view, form, by_way, leg.from, leg.to);
  occasion.value = whole.value;
  occasion.doubts = whole.doubts;
  if (!limit) {
    occasion.doubts.insert(Reason::kNoData);
  } else {
    occasion.limit = *limit;
    if (whole.value.hi) occasion.margin.lo = *limit - *whole.value.hi;
    if (whole.value.best) occasion.margin.best = *limit - *whole.value.best;
    if (whole.value.lo && accusing) occasion.margin.hi = *accusing - *whole.value.lo;
    if (unsure) occasion.doubts.insert(Reason::kNoData);
  }
  // A hidden check, or an end of the phase and its next start, would cut the leg: only the parts
  // between accuse, later ones by the more lenient limit.
  Stamp from = leg.from;
  std::optional<int64_t> part_limit = accusing, accuse;
  const auto take_part = [&](const Stamp& to) {
    const Measured part = measure(view, form, by_way, from, to);
    if (!part_limit || !part.value.lo) return;
    const int64_t margin = *part_limit - *part.value.lo;
    accuse = accuse ? std::min(*accuse, margin) : margin;
  };
  bool cut = false;
  for (const HiddenSpan& hidden : cuts_of(view, rule, form)) {
    if (hidden.to_us <= leg.from.time_us || hidden.from_us >= leg.to.time_us) continue;
    cut = true;
    occasion.doubts.insert(hidden.reason);
    Stamp at = from;
    at.time_us = std::max(hidden.from_us, from.time_us);
    take_part(at);
    from.time_us = std::max(at.time_us, std::min(hidden.to_us, leg.to.time_us));
    part_limit = every ? limit_at(view, *every, leg.from.time_us).best : std::nullopt;
    const auto restarted = first ? limit_at(view, *first, leg.from.time_us).best : part_limit;
    if (part_limit && restarted) part_limit = std::max(*part_limit, *restarted);
  }
  if (cut) {
    take_part(leg.to);
    occasion.margin.hi = accusing ? accuse : std::nullopt;
    if (occasion.margin.hi && occasion.margin.best && *occasion.margin.hi < *occasion.margin.best)
      occasion.margin.hi = occasion.margin.best;
  }
  clear_if_inside(occasion);
  if (!leg.over) occasion.doubts.insert(Reason::kNotYet);
  occasion.at_us = leg.to.time_us;
  cite(view, leg.from, "opens", occasion);
  cite(view, leg.to, leg.checked ? "critical" : "closes", occasion);
  if (by_way) occasion.basis = weaker(occasion.basis, Basis::kMeasured);
  occasion.words = fmt::format("{} since {} {}", by_way ? "driven" : "gone by",
                               leg.from_check ? form.check : "the start of '" + form.phase + "'",
                               !leg.checked ? (by_way ? "without a check" : "without a check up to")
                               : by_way     ? "when checked"
                                            : "when checked at");
  return candidate;
}

// An `unless` that hides frees the leg, but for one outside already where it first can be.
void doubt_if_freed(JobView& view, const Rule& rule, const RecheckEvery& form, const Leg& leg,
                    bool by_way, Occasion& occasion) {
  if (verdict_of(occasion, Bounds::kAtMost) != Verdict::kDeviated) return;
  Leg sooner = leg;
  for (const HiddenSpan& span : hidden_unless(view, rule))
    sooner.to.time_us = std::min(sooner.to.time_us, span.from_us);
  sooner.to.early_us = sooner.to.late_us = 0;
  if (leg.from.time_us < sooner.to.time_us && sooner.to.time_us < leg.to.time_us) {
    const Occasion then = judge_leg(view, rule, form, sooner, by_way)->occasion;
    if (verdict_of(then, Bounds::kAtMost) == Verdict::kDeviated) {
      occasion.margin.hi = then.margin.hi;
      occasion.free_by_us = sooner.to.time_us;
    }
  }
  doubt_unless(view, rule, {&occasion, 1}, Bounds::kAtMost);
}

// Worse first: by verdict, then by the margin's share of its limit.
bool worse(const Candidate& a, const Candidate& b) {
  const auto rank = [](const Candidate& c) {
    const Verdict verdict = verdict_of(c.occasion, Bounds::kAtMost);
    return verdict == Verdict::kDeviated ? 0 : verdict == Verdict::kUnproven ? 1 : 2;
  };
  if (rank(a) != rank(b)) return rank(a) < rank(b);
  if (!a.occasion.margin.best || !b.occasion.margin.best)
    return !a.occasion.margin.best && b.occasion.margin.best;
  return static_cast<Wide>(*a.occasion.margin.best) * b.occasion.limit.value_or(1) <
         static_cast<Wide>(*b.occasion.margin.best) * a.occasion.limit.value_or(1);
}

}  // namespace

void judge_form(JobView& view, const Rule& rule, const RecheckEvery& form, Outcomes& out) {
  Outcome outcome{.rule_id = rule.id,
                  .worst = {},
                  .unit = "",
                  .quantity = fmt::format("between {}", form.check),
                  .limit = "",
                  .limit_stored = {},
                  .listened = view.facts.sources(form.check),
                  .remarks = {}};
  const auto add = [&](const std::set<std::string>& more) {
    outcome.listened.insert(more.begin(), more.end());
  };
  add(view.facts.sources(view.facts.opener(form.phase)));
  if (form.distance || form.first_distance) add(view.quantities.sources("truck.driven"));
  if ((form.time || form.first_time) && !form.parked_counts)
    add(view.facts.sources("truck.moving.on"));
  std::vector<Candidate> candidates;
  for (const PhaseSpan& span : within_while(view, rule, view.facts.phase(form.phase))) {
    for (Leg leg : legs_of(view, form, span)) {
      const bool freed = excused(view, rule, leg.to.time_us);
      if (freed) {  // Judged only if it was outside, or may have been, before that.
        const std::vector<PhaseSpan> rest =
            until_freed(view, rule, {PhaseSpan{leg.from, leg.to, true}});
        if (rest.empty()) continue;
        leg.to = rest.front().close;
        leg.checked = false;
        leg.over = true;
      }
      for (const bool by_way : {true, false}) {
        auto candidate = judge_leg(view, rule, form, leg, by_way);
        if (!candidate) continue;
        if (freed && verdict_of(candidate->occasion, Bounds::kAtMost) == Verdict::kMet) continue;
        doubt_if_freed(view, rule, form, leg, by_way, candidate->occasion);
        candidates.push_back(std::move(*candidate));
      }
    }
  }
  std::vector<Occasion> occasions;
  const auto worst = std::min_element(candidates.begin(), candidates.end(), worse);
  const Limit* limit = worst != candidates.end() ? worst->limit
                       : form.distance           ? &*form.distance
                       : form.time               ? &*form.time
                       : form.first_distance     ? &*form.first_distance
                                                 : &*form.first_time;
  describe_limit(view, *limit, Bounds::kAtMost, outcome);
  if (worst != candidates.end()) {
    // Any leg that stays open gives its reasons.
    Occasion shown = worst->occasion;
    if (verdict_of(shown, Bounds::kAtMost) == Verdict::kUnproven) {
      bool too_close = false;
      for (const Candidate& one : candidates) {
        if (verdict_of(one.occasion, Bounds::kAtMost) != Verdict::kUnproven) continue;
        too_close = too_close || one.occasion.doubts.empty();
        shown.doubts.insert(one.occasion.doubts.begin(), one.occasion.doubts.end());
      }
      if (too_close) shown.doubts.insert(Reason::kTooClose);
    }
    occasions.push_back(std::move(shown));
  }
  conclude_universal(view, rule, outcome, occasions, view.facts.opener(form.phase), Bounds::kAtMost,
                     hidden_stays(view, rule, form.phase));
  out.push_back(std::move(outcome));
}

}  // namespace fairlead::judge
