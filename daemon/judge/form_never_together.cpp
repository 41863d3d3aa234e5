// never_together: S1 and S2 never at once for longer than `tolerate` (not co-existence, in state
// form). H not(S1 and S2 for > d). m = d - longest overlap, in s: the sure one accuses, the
// possible one clears; without any overlap m = d + nearest approach in time.
//
// An unknown span counts as possible. move_clear excuses an overlap that lies wholly within so many
// metres and under such a speed by the truck's receiver, and it is shown. Applies where both states
// were seen; unknown where one may have been.
#include <fmt/format.h>

#include <algorithm>

#include "daemon/base/time_text.h"
#include "daemon/judge/margins.h"
#include "daemon/judge/rolled.h"
#include "daemon/judge/shared_risk.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

// Stays of a fact: surely so (`unknown_too` false), or possibly so.
std::vector<PhaseSpan> stays(const JobView& view, const Timeline& fact, bool unknown_too) {
  std::vector<PhaseSpan> spans;
  const PhaseSpan job = view.facts.phase("job").front();
  const auto counts = [&](Tri value) {
    return value == Tri::kTrue || (unknown_too && value == Tri::kUnknown);
  };
  bool on = counts(fact.initial());
  if (on) spans.push_back({job.open, job.close, job.closed});
  for (const Change& change : fact.changes()) {
    if (change.at.time_us >= job.close.time_us) break;
    if (counts(change.value) == on) continue;
    on = !on;
    if (on) {
      spans.push_back({change.at, job.close, job.closed});
    } else {
      spans.back().close = change.at;
      spans.back().closed = true;
    }
  }
  return spans;
}

// The fact with what no line has named yet counted as false; never named at all: unknown.
Timeline named_fact(JobView& view, const std::string& name) {
  const Timeline& fact = view.facts.fact(name);
  return fact.named() ? fact.as_input() : fact;
}

struct Stays {
  std::vector<PhaseSpan> surely, possibly;
};
Stays stays_of(JobView& view, const Rule& rule, const Timeline& fact) {
  return {surely_within_while(view, rule, stays(view, fact, false)),
          within_while(view, rule, stays(view, fact, true))};
}

// Whether the truck only moved clear during the overlap.
Tri moved_clear(JobView& view, const MoveClear& clear, const PhaseSpan& span, std::string& shown) {
  const Series& speed = view.quantities.series("truck.speed", 0, 0);
  const Total way = driven(view, {span}, 0);
  const int64_t z_micro = shared_risk_z_micro(span.close.time_us - span.open.time_us, speed.tau_us);
  int64_t fastest = 0;
  bool surely_slow = true, surely_fast = false;
  for (const Piece& piece : speed.within(span.open.time_us, span.close.time_us)) {
    fastest = std::max(fastest, piece.value);
    surely_slow = surely_slow && *interval_of(piece).hi < clear.speed_mm_s;
    const int64_t accuse = ceil_div(static_cast<Wide>(piece.sd_milli) * z_micro, 1'000'000'000);
    surely_fast = surely_fast || piece.value - accuse >= clear.speed_mm_s;
  }
  shown = fmt::format("moved clear: {} m at up to {} km/h, within {}",
                      format_in_unit(way.mm.best.value_or(0), Rational{1000, 1}, 1, Toward::kUp),
                      format_in_unit(fastest, Rational{2500, 9}, 1, Toward::kUp), clear.text);
  if (surely_fast || (way.mm.lo && *way.mm.lo > clear.distance_mm)) return Tri::kFalse;
  const bool covered = speed.holes(span.open.time_us, span.close.time_us).empty();
  return covered && surely_slow && way.mm.hi && *way.mm.hi <= clear.distance_mm ? Tri::kTrue
                                                                                : Tri::kUnknown;
}

// The lines by which both are so at `time_us`.
void cite_states(JobView& view, const NeverTogether& form, int64_t time_us, Occasion& occasion) {
  for (const std::string& name : {form.state, form.with}) {
    const Change* change = view.facts.fact(name).change_at(time_us);
    if (change != nullptr && change->value == Tri::kTrue) cite(view, change->at, "opens", occasion);
  }
}

// One possible overlap, and the sure ones within it.
Occasion overlap_of(JobView& view, const Rule& rule, const NeverTogether& form,
                    const PhaseSpan& possible, const std::vector<PhaseSpan>& surely,
                    const Timeline& both) {
  Occasion occasion;
  const int64_t d = form.tolerate_us;
  int64_t best = 0, sure = 0;
  const PhaseSpan* longest = nullptr;
  for (const PhaseSpan& span : surely) {
    if (span.open.time_us < possible.open.time_us || span.close.time_us > possible.close.time_us)
      continue;
    const auto length = time_from_to(span.open, span.close);
    if (length) sure = std::max(sure, length->lo_us);
    if (longest != nullptr && span.close.time_us - span.open.time_us <= best) continue;
    best = span.close.time_us - span.open.time_us;
    longest = &span;
  }
  const auto most = time_from_to(possible.open, possible.close);
  occasion.margin = {std::nullopt, d - best, d - std::min(sure, best)};
  if (most)
    occasion.margin.lo = d - std::max(most->hi_us, best);
  else
    occasion.doubts.insert(Reason::kClockDoubt);
  if (best != possible.close.time_us - possible.open.time_us) {
    // Less of it is sure: the states are not, or that the rule asked all the while.
    const Reason why = both.unknown_reason(possible.open.time_us, possible.close.time_us);
    if (why != Reason::kNone)
      occasion.doubts.insert(why);
    else
      occasion.doubts.merge(may_be_outside(view, rule, possible.close.time_us - 1));
  } else if (straddles(occasion.margin)) {
    occasion.doubts.insert(Reason::kClockDoubt);
  }
  clear_if_inside(occasion);
  if (!possible.closed) occasion.doubts.insert(Reason::kNotYet);
  const PhaseSpan& shown = longest != nullptr ? *longest : possible;
  occasion.at_us = shown.open.time_us;
  cite_states(view, form, shown.open.time_us, occasion);
  cite(view, shown.close, "closes", occasion);
  occasion.words = fmt::format("{} and {} together for {} s from", form.state, form.with,
                               format_in_unit(best, Rational{1'000'000, 1}, 2, Toward::kNearest));
  return occasion;
}

void excuse_if_moved_clear(JobView& view, const NeverTogether& form, const PhaseSpan& possible,
                           Occasion& occasion, Outcome& outcome, bool& excused_whole) {
  if (!form.move_clear || (occasion.margin.lo && *occasion.margin.lo >= 0)) return;
  std::string shown;
  const Tri clear = moved_clear(view, *form.move_clear, possible, shown);
  if (clear == Tri::kFalse) return;
  if (clear == Tri::kTrue) {
    outcome.remarks.push_back(shown);
    excused_whole = true;
    return;
  }
  occasion.margin.hi = form.tolerate_us;
  occasion.doubts.insert(Reason::kNoData);
}

// d + nearest approach of two states that never met.
Occasion approach_of(JobView& view, const NeverTogether& form, const Stays& a, const Stays& b) {
  const auto nearest = [](const std::vector<PhaseSpan>& some, const std::vector<PhaseSpan>& others,
                          const Stamp*& from, const Stamp*& to) {
    int64_t least = kForever;
    const auto take = [&](const Stamp& x, const Stamp& y) {
      if (x.time_us > y.time_us || y.time_us - x.time_us >= least) return;
      least = y.time_us - x.time_us;
      from = &x;
      to = &y;
    };
    for (const PhaseSpan& one : some) {
      for (const PhaseSpan& other : others) {
        take(one.close, other.open);
        take(other.close, one.open);
      }
    }
    return least;
  };
  const Stamp *from = nullptr, *to = nullptr, *near_from = nullptr, *near_to = nullptr;
  const int64_t best = nearest(a.surely, b.surely, from, to);
  const int64_t near = nearest(a.possibly, b.possibly, near_from, near_to);
  Occasion occasion;
  const int64_t d = form.tolerate_us;
  const auto apart = time_from_to(*from, *to);
  const auto least = time_from_to(*near_from, *near_to);
  occasion.margin = {std::nullopt, d + best, d + best};
  if (apart) occasion.margin.hi = d + apart->hi_us;
  if (least)
    occasion.margin.lo = d + std::min(best, std::min(near, least->lo_us));
  else
    occasion.doubts.insert(Reason::kClockDoubt);
  if (straddles(occasion.margin)) occasion.doubts.insert(Reason::kClockDoubt);
  clear_if_inside(occasion);
  if (view.lines.closed() == kNoLine) occasion.doubts.insert(Reason::kNotYet);
  occasion.at_us = to->time_us;
  cite(view, *from, "opens", occasion);
  cite(view, *to, "critical", occasion);
  occasion.words = fmt::format("{} and {} never together, nearest at", form.state, form.with);
  return occasion;
}

// Why the states may have met, or been there while the rule asked, unseen.
std::set<Reason> doubts_of(JobView& view, const Rule& rule, const NeverTogether& form) {
  std::set<Reason> reasons;
  for (const std::string& name : {form.state, form.with}) {
    for (const HiddenSpan& span : hidden_for(view, rule, name + ".on")) reasons.insert(span.reason);
  }
  for (const PhaseSpan& stay : view.facts.phase(rule.while_phase))
    reasons.merge(may_be_outside(view, rule, stay.close.time_us - 1));
  if (view.lines.closed() == kNoLine) reasons.insert(Reason::kNotYet);
  if (reasons.empty()) reasons.insert(Reason::kNoData);
  return reasons;
}

}  // namespace

void judge_form(JobView& view, const Rule& rule, const NeverTogether& form, Outcomes& out) {
  Outcome outcome{.rule_id = rule.id,
                  .worst = {},
                  .dimension = Dimension::kTime,
                  .unit = "s",
                  .quantity = fmt::format("{} with {}", form.state, form.with),
                  .limit = "",
                  .limit_stored = form.tolerate_us,
                  .listened = view.facts.sources(form.state + ".on"),
                  .remarks = {}};
  outcome.limit = "at most " + span_words(form.tolerate_us);
  const auto others = view.facts.sources(form.with + ".on");
  outcome.listened.insert(others.begin(), others.end());
  if (view.lines.opened() == kNoLine) return out.push_back(std::move(outcome));
  const Timeline first = named_fact(view, form.state), second = named_fact(view, form.with);
  const Stays a = stays_of(view, rule, first), b = stays_of(view, rule, second);
  const Timeline both = timeline_and(first, second);
  const Stays together = stays_of(view, rule, both);
  std::vector<Occasion> occasions;
  const bool seen = !a.surely.empty() && !b.surely.empty();
  for (const PhaseSpan& possible : together.possibly) {
    Occasion occasion = overlap_of(view, rule, form, possible, together.surely, both);
    bool excused_whole = excused(view, rule, *occasion.at_us);
    if (!excused_whole)
      excuse_if_moved_clear(view, form, possible, occasion, outcome, excused_whole);
    if (!excused_whole && seen) occasions.push_back(std::move(occasion));
  }
  if (together.possibly.empty() && seen) occasions.push_back(approach_of(view, form, a, b));
  const auto may_be = [&](const Stays& stays) {
    return std::any_of(stays.possibly.begin(), stays.possibly.end(), [&](const PhaseSpan& span) {
      return !excused(view, rule, span.open.time_us + 1);
    });
  };
  std::set<Reason> hidden = hidden_stays(view, rule, stays(view, both, true));
  if (!occasions.empty())
    worst_of(occasions, Bounds::kAtLeast).doubts.insert(hidden.begin(), hidden.end());
  if (occasions.empty() && ((!seen && may_be(a) && may_be(b)) || may_go_on(view, rule)))
    hidden.merge(doubts_of(view, rule, form));
  doubt_unless(view, rule, occasions, Bounds::kAtLeast);
  conclude_with(outcome, occasions, hidden, Bounds::kAtLeast);
  out.push_back(std::move(outcome));
}

}  // namespace fairlead::judge
