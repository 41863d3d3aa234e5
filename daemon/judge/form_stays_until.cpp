// stays_until: C holds from each C.on until the next B, at least T1, at most T2, flicker up to
// `bridge` not counted. H(B -> (C S A)) and H(B -> (not B S[T1,inf) A)): response(A,B) plus absence
// of C's loss in between. m = min(t_Coff - t_B, dwell - T1, T2 - dwell), dwell from A to B.
//
// met: C surely held from A up to a B that surely came, and stays so for every filling of the
// gaps. deviated: C surely lost longer than the bridge before B (decidable while B is still open),
// or the dwell wholly outside. unproven: no_data when C is unknown for longer than the bridge, or a
// B may hide, also in the gap that A was first seen after; clock_doubt when the clocks leave open
// whether C was lost after A and before B, or which B came first after A; cut_short when the job
// ended before B; not_yet before that. A C.on that only ends a bridged flicker starts nothing.
#include <fmt/format.h>

#include <algorithm>

#include "daemon/base/time_text.h"
#include "daemon/judge/margins.h"

namespace fairlead::judge {
namespace {

// First loss of the fact after `from_us` that lasts longer than the bridge: with every unknown, and
// all that clocks leave open, taken for lost, or none of it. nullptr: it holds up to `end`.
const Stamp* loss_after(const Timeline& fact, int64_t from_us, int64_t bridge_us, const Stamp& end,
                        bool unknown_is_lost) {
  const Stamp* off = nullptr;
  const auto lost_until = [&](const Stamp& back) {
    const auto dip = time_from_to(*off, back);
    if (!dip) return unknown_is_lost;
    const bool swapped = off->frame != back.frame && dip->lo_us < 0;  // Lost for good.
    return unknown_is_lost ? dip->hi_us > bridge_us || swapped : dip->lo_us > bridge_us;
  };
  for (const Change& change : fact.changes()) {
    if (change.at.time_us <= from_us || change.at.time_us > end.time_us) continue;
    const bool held =
        change.value == Tri::kTrue || (change.value == Tri::kUnknown && !unknown_is_lost);
    if (!held && off == nullptr) off = &change.at;
    if (!held || off == nullptr) continue;
    if (lost_until(change.at)) return off;
    off = nullptr;
  }
  return off != nullptr && lost_until(end) ? off : nullptr;
}

// What the obligation of one C.on knows.
struct Obligation {
  const Stamp* on;
  const Stamp* until = nullptr;     // The B that ends it.
  const Stamp* may_lose = nullptr;  // C lost with every unknown taken for lost.
  const Stamp* loses = nullptr;     // Surely.
  Stamp end;                        // Up to where the record goes.
  bool may_be_flicker = false;     // C.on after a short loss that something unseen may come before.
  std::vector<const Stamp*> ends;  // Every B that the clocks leave open as the one that ends it.
  bool ends_surely = false;        // One of them surely came after A.
  bool lost_unsurely = false;      // By the clocks that loss may have come before A ...
  bool off_unsurely = false;       // ... or the one before A after it.

  [[nodiscard]] bool end_known() const { return ends_surely && ends.size() == 1; }
};

// t_Coff - t_B.
Range held_margin(const Obligation& o, int64_t bridge_us) {
  if (o.until == nullptr) {
    Range margin;
    const auto lost = o.loses == nullptr ? std::nullopt : time_from_to(*o.loses, o.end);
    if (lost) margin.hi = -lost->lo_us;
    return margin;
  }
  Range margin;
  const auto to_end = [&](const Stamp* off) {
    TimeDifference past =
        off == nullptr
            ? TimeDifference{o.end.time_us - o.until->time_us, o.end.time_us - o.until->time_us,
                             kForever}
            : time_from_to(*o.until, *off)
                  .value_or(TimeDifference{kBeginning, off->time_us - o.until->time_us, kForever});
    // Lost for no longer than the bridge when B came: it still counted as held.
    for (int64_t* end : {&past.lo_us, &past.best_us, &past.hi_us})
      if (*end < 0 && -*end <= bridge_us) *end = 0;
    return past;
  };
  const TimeDifference least = to_end(o.may_lose), most = to_end(o.loses);
  if (least.lo_us != kBeginning) margin.lo = least.lo_us;
  margin.best = least.best_us;
  if (most.hi_us < kForever) margin.hi = most.hi_us;
  return margin;
}

// dwell - T1 and T2 - dwell.
Range dwell_margin(JobView& view, const StaysUntil& form, const Obligation& o, Occasion& occasion,
                   Range margin) {
  const auto dwell = o.until == nullptr ? std::nullopt : time_from_to(*o.on, *o.until);
  const auto so_far = time_from_to(*o.on, o.end);
  const auto add = [&](const std::optional<Limit>& limit, bool least) {
    if (!limit) return;
    const auto at = limit_at(view, *limit, o.on->time_us).best;
    if (!at) {
      occasion.doubts.insert(Reason::kNoData);
      margin.lo.reset();
    } else if (dwell) {
      margin = tighter(margin, least ? above(*at, *dwell) : below(*at, *dwell));
    } else if (o.until == nullptr && !least && so_far) {
      margin = tighter(margin, Range{{}, {}, *at - so_far->lo_us});
    } else {
      margin = tighter(margin, Range{});
    }
  };
  add(form.at_least, true);
  add(form.at_most, false);
  return margin;
}

// As if B had come at `time_us`.
Range margin_with_end(JobView& view, const StaysUntil& form, const Obligation& o, int64_t time_us) {
  Stamp instead = *o.on;
  instead.time_us = time_us;
  instead.early_us = instead.late_us = 0;
  Obligation other = o;
  other.until = &instead;
  Occasion ignored;
  return dwell_margin(view, form, other, ignored, held_margin(other, form.bridge_us));
}

// The obligation as if B had come in a gap: at the earliest, at the latest, or when C had just
// dwelt long enough.
void widen_for_hidden(JobView& view, const Rule& rule, const StaysUntil& form, const Obligation& o,
                      Occasion& occasion) {
  const int64_t until_us = o.until == nullptr ? o.end.time_us : o.until->time_us;
  for (const HiddenSpan& span : gaps_for(view, rule, form.until)) {
    if (span.to_us <= o.on->time_us - o.on->early_us || span.from_us >= until_us) continue;
    if (span.from_us < o.on->time_us && o.on->early_us > 0) {
      // A first seen after a gap may have come in it, and been ended there.
      occasion.margin.hi.reset();
      occasion.doubts.insert(span.reason);
    }
    if (span.to_us <= o.on->time_us) continue;
    const int64_t earliest = std::max(span.from_us, o.on->time_us);
    const int64_t latest = std::max(earliest, std::min(span.to_us, until_us));
    const auto least = form.at_least ? limit_at(view, *form.at_least, o.on->time_us).best
                                     : std::optional<int64_t>(0);
    const int64_t dwelt = std::clamp(o.on->time_us + least.value_or(0), earliest, latest);
    occasion.doubts.insert(span.reason);
    for (const int64_t time_us : {earliest, dwelt, latest}) {
      const Range then = margin_with_end(view, form, o, time_us);
      if (!then.hi || (occasion.margin.hi && *then.hi > *occasion.margin.hi))
        occasion.margin.hi = then.hi;
      if (!then.lo || (occasion.margin.lo && *then.lo < *occasion.margin.lo))
        occasion.margin.lo = then.lo;
    }
  }
}

// Every B that may be the first one after A: possibly after A, and not surely after one that is.
void find_ends(const std::vector<Stamp>& untils, Obligation& o) {
  std::vector<const Stamp*> sure;
  for (const Stamp& until : untils) {
    const auto span = time_from_to(*o.on, until);
    if (span && span->lo_us >= 0) sure.push_back(&until);
    if (o.until == nullptr && until.time_us >= o.on->time_us) o.until = &until;
  }
  o.ends_surely = !sure.empty();
  for (const Stamp& until : untils) {
    const auto span = time_from_to(*o.on, until);
    if (span && span->hi_us < 0) continue;
    const bool later = std::any_of(sure.begin(), sure.end(), [&](const Stamp* first) {
      if (first->frame == until.frame) return first < &until;  // In order of its lines.
      const auto lead = time_from_to(*first, until);
      return lead && lead->lo_us > 0;
    });
    if (!later) o.ends.push_back(&until);
  }
}

// Whether C was off before `on` for no longer than the bridge, and unknown before that.
bool may_be_flicker(const Timeline& fact, const Stamp& on, int64_t bridge_us) {
  const Change* off = fact.change_at(on.time_us - 1);
  if (off == nullptr || off->value != Tri::kFalse || on.time_us - off->at.time_us > bridge_us)
    return false;
  const Change* before = fact.change_at(off->at.time_us - 1);
  return before != nullptr && before->value == Tri::kUnknown;
}

Obligation obligation_of(JobView& view, const StaysUntil& form, const Stamp& on, int64_t horizon) {
  Obligation o{.on = &on, .end = {}, .ends = {}};
  const auto& job = view.facts.phase("job");
  if (!job.empty()) o.end = job.front().close;
  o.end.time_us = horizon;
  const Timeline& fact = view.facts.fact(form.state);
  find_ends(view.facts.events(form.until), o);
  o.may_lose = loss_after(fact, on.time_us, form.bridge_us, o.end, true);
  o.loses = loss_after(fact, on.time_us, form.bridge_us, o.end, false);
  o.may_be_flicker = may_be_flicker(fact, on, form.bridge_us);
  const auto apart = [](const Stamp& a, const Stamp& b) {
    const auto lead = time_from_to(a, b);
    return a.frame == b.frame || (lead && lead->lo_us >= 0);
  };
  o.lost_unsurely = o.loses != nullptr && !apart(on, *o.loses);
  const Change* before = fact.change_at(on.time_us - 1);
  o.off_unsurely = before != nullptr && before->value == Tri::kFalse && !apart(before->at, on);
  return o;
}

// Where the clocks leave open which B ends it, whether one does, or whether C was lost at all.
void widen_for_clocks(JobView& view, const StaysUntil& form, const Obligation& o,
                      Occasion& occasion) {
  if (!o.end_known() && !o.ends.empty()) {
    const bool unseen =
        view.facts.fact(form.state).unknown_within(o.on->time_us - o.on->early_us, o.on->time_us);
    occasion.doubts.insert(unseen ? Reason::kNoData : Reason::kClockDoubt);
    occasion.margin.lo.reset();
    Obligation other = o;
    const auto with_end = [&](const Stamp* end) {
      other.until = end;
      Occasion ignored;
      const Range margin =
          dwell_margin(view, form, other, ignored, held_margin(other, form.bridge_us));
      if (!margin.hi || (occasion.margin.hi && *margin.hi > *occasion.margin.hi))
        occasion.margin.hi = margin.hi;
    };
    for (const Stamp* end : o.ends) with_end(end);
    if (!o.ends_surely) with_end(nullptr);
  }
  if (!o.lost_unsurely && !o.off_unsurely) return;
  occasion.doubts.insert(Reason::kClockDoubt);
  if (o.lost_unsurely) occasion.margin.hi.reset();
  if (o.off_unsurely) occasion.margin.lo.reset();
}

Occasion occasion_of(JobView& view, const Rule& rule, const StaysUntil& form, const Obligation& o) {
  Occasion occasion;
  occasion.margin = dwell_margin(view, form, o, occasion, held_margin(o, form.bridge_us));
  widen_for_clocks(view, form, o, occasion);
  if (o.may_be_flicker) {
    occasion.doubts.insert(Reason::kNoData);
    occasion.margin.hi.reset();
  }
  const int64_t end = o.until == nullptr ? o.end.time_us : o.until->time_us;
  const Timeline& fact = view.facts.fact(form.state);
  if (o.may_lose != o.loses) {
    const bool unseen = fact.unknown_within(o.on->time_us, end + 1);
    occasion.doubts.insert(unseen ? fact.unknown_reason(o.on->time_us, end + 1)
                                  : Reason::kClockDoubt);
  }
  if (o.until == nullptr)
    occasion.doubts.insert(view.lines.closed() == kNoLine ? Reason::kNotYet : Reason::kCutShort);
  widen_for_hidden(view, rule, form, o, occasion);
  // Nothing but clocks, and bursts of taps, widens a time that nothing hides.
  if (occasion.doubts.empty()) occasion.doubts.insert(Reason::kClockDoubt);
  clear_if_inside(occasion);
  doubt_outside(view, rule, o.on->time_us, occasion);
  const Stamp* off = o.may_lose;
  const bool lost_first = off != nullptr && (o.until == nullptr || off->time_us < o.until->time_us);
  occasion.at_us = lost_first ? off->time_us : end;
  occasion.free_by_us = o.until == nullptr ? view.lines.end_us() + 1 : o.until->time_us;
  cite(view, *o.on, "opens", occasion);
  if (off != nullptr) cite(view, *off, "critical", occasion);
  if (o.until != nullptr) cite(view, *o.until, "closes", occasion);
  occasion.words = lost_first ? fmt::format("{} lost before {}, at", form.state, form.until)
                   : o.until != nullptr
                       ? fmt::format("{} held until {}, at", form.state, form.until)
                       : fmt::format("{} held, no {} came, up to", form.state, form.until);
  return occasion;
}

// Spans in which a C.on may hide that starts an obligation nobody saw: outside those that are
// judged, or after their B.
std::set<Reason> hidden_starts(JobView& view, const Rule& rule, const StaysUntil& form,
                               const std::vector<Obligation>& known) {
  std::set<Reason> reasons;
  for (const HiddenSpan& span : hidden_for(view, rule, form.state + ".on")) {
    const bool inside = std::any_of(known.begin(), known.end(), [&](const Obligation& o) {
      const int64_t end = o.until == nullptr ? o.end.time_us : o.until->time_us;
      const bool held = o.may_lose == nullptr || o.may_lose->time_us > span.from_us;
      return span.from_us > o.on->time_us && (held || span.to_us <= end + 1);
    });
    if (!inside && span.from_us < view.lines.end_us()) reasons.insert(span.reason);
  }
  return reasons;
}

std::string limit_words(JobView& view, const StaysUntil& form) {
  std::string text = fmt::format("until {}", form.until);
  const auto add = [&](const char* word, const std::optional<Limit>& limit) {
    if (!limit) return;
    const auto at = limit_at(view, *limit, 0).best;
    text += at ? fmt::format(", {} {}", word, span_words(*at))
               : fmt::format(", {} {}, which no file gives", word, limit->field);
  };
  add("at least", form.at_least);
  add("at most", form.at_most);
  return text;
}

}  // namespace

void judge_form(JobView& view, const Rule& rule, const StaysUntil& form, Outcomes& out) {
  const std::string starts = form.state + ".on";
  Outcome outcome{.rule_id = rule.id,
                  .worst = {},
                  .dimension = Dimension::kTime,
                  .unit = "s",
                  .quantity = fmt::format("{} until {}", form.state, form.until),
                  .limit = "",
                  .limit_stored = {},
                  .listened = view.facts.sources(starts),
                  .remarks = {}};
  outcome.limit = limit_words(view, form);
  const auto enders = view.facts.sources(form.until);
  outcome.listened.insert(enders.begin(), enders.end());
  const int64_t horizon = horizon_us(view, outcome.listened);
  std::vector<Occasion> occasions;
  std::vector<Obligation> known, judged;
  std::set<Reason> hidden;
  for (const Stamp& on : view.facts.events(starts)) {
    const bool flicker = !known.empty() && (known.back().loses == nullptr ||
                                            on.time_us < known.back().loses->time_us);
    if (flicker) continue;
    const Obligation o = obligation_of(view, form, on, horizon);
    known.push_back(o);
    if (!within_while(view, rule, on.time_us)) continue;
    judged.push_back(o);
    // Without a B the obligation is open to the end: an `unless` frees it until then.
    if (!excused(view, rule, o.until == nullptr ? view.lines.end_us() + 1 : o.until->time_us))
      occasions.push_back(occasion_of(view, rule, form, o));
    else
      add_hidden_between(view, rule, form.until, on.time_us, hidden);
  }
  hidden.merge(hidden_starts(view, rule, form, judged));
  if (!occasions.empty())
    worst_of(occasions, Bounds::kAtLeast).doubts.insert(hidden.begin(), hidden.end());
  if (may_go_on(view, rule)) hidden.insert(Reason::kNotYet);
  doubt_unless(view, rule, occasions, Bounds::kAtLeast);
  conclude_with(outcome, occasions, hidden, Bounds::kAtLeast);
  out.push_back(std::move(outcome));
}

}  // namespace fairlead::judge
