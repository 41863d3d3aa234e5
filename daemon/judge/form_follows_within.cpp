// follows_within: after A, B within T (Declare: response, timed). G(A -> F[0,T] B), decided at the
// deadline. m = T - (t_B - t_A); without B: m_hi = T - (horizon - t_A).
//
// met: some B surely after A and within T. deviated: the record is complete past the deadline
// without such a B. unproven: not_yet before the deadline; cut_short when the job ended earlier;
// no_data when a gap may hide the B; clock_doubt when two clocks leave the order or the span open.
#include <fmt/format.h>

#include "daemon/base/time_text.h"
#include "daemon/judge/margins.h"

namespace fairlead::judge {
namespace {

struct Answer {
  Range margin;
  const Stamp* stamp = nullptr;  // The first B after A.
  bool clocks_known = true;
};

Answer answer_to(JobView& view, const FollowsWithin& form, const Stamp& after) {
  Answer answer;
  for (const Stamp& then : view.facts.events(form.then)) {
    const auto span = time_from_to(after, then);
    if (!span) {
      answer.clocks_known = false;
      continue;
    }
    if (span->hi_us < 0) continue;  // Surely before.
    if (span->lo_us >= 0)
      answer.margin.lo =
          std::max(answer.margin.lo.value_or(kBeginning), form.within_us - span->hi_us);
    answer.margin.hi = std::max(answer.margin.hi.value_or(kBeginning),
                                form.within_us - std::max<int64_t>(0, span->lo_us));
    if (span->best_us < 0 || answer.stamp != nullptr) continue;
    answer.margin.best = form.within_us - span->best_us;
    answer.stamp = &then;
  }
  return answer;
}

Occasion occasion_of(JobView& view, const Rule& rule, const FollowsWithin& form, const Stamp& after,
                     int64_t horizon) {
  Occasion occasion;
  const Answer answer = answer_to(view, form, after);
  occasion.margin = answer.margin;
  const int64_t deadline = after.time_us + form.within_us;
  if (!occasion.margin.hi) {
    occasion.margin.hi = form.within_us - (horizon - after.time_us - after.late_us);
    if (*occasion.margin.hi >= 0)
      occasion.doubts.insert(view.lines.closed() == kNoLine ? Reason::kNotYet : Reason::kCutShort);
  } else if (straddles(occasion.margin) || !occasion.margin.lo) {
    occasion.doubts.insert(Reason::kClockDoubt);
  }
  if (!answer.clocks_known) {
    occasion.margin.hi = form.within_us;
    occasion.doubts.insert(Reason::kClockDoubt);
  }
  // An A first seen after a gap may have come in it, and been answered there.
  const int64_t earliest_us = after.time_us - after.early_us;
  for (const HiddenSpan& span : gaps_for(view, rule, form.then)) {
    const int64_t until = answer.stamp == nullptr ? deadline + 1 : answer.stamp->time_us;
    if (span.to_us <= earliest_us || span.from_us >= std::min(until, deadline + 1)) continue;
    occasion.margin.hi = std::max(
        *occasion.margin.hi, form.within_us - std::max<int64_t>(0, span.from_us - after.time_us));
    occasion.doubts.insert(span.reason);
  }
  clear_if_inside(occasion);
  doubt_outside(view, rule, after.time_us, occasion);
  occasion.at_us = answer.stamp == nullptr ? deadline : answer.stamp->time_us;
  occasion.free_by_us = std::min(*occasion.at_us, deadline);  // Outside from then on.
  cite(view, after, "opens", occasion);
  if (answer.stamp != nullptr) {
    cite(view, *answer.stamp, "critical", occasion);
    occasion.words = fmt::format("{} after {}, at", form.then, form.after);
  } else {
    if (view.lines.closed() != kNoLine)
      cite(view, view.lines.line(view.lines.closed()).stamp, "closes", occasion);
    occasion.words = fmt::format("no {} after {}, due by", form.then, form.after);
  }
  return occasion;
}

}  // namespace

void judge_form(JobView& view, const Rule& rule, const FollowsWithin& form, Outcomes& out) {
  Outcome outcome{.rule_id = rule.id,
                  .worst = {},
                  .dimension = Dimension::kTime,
                  .unit = "s",
                  .quantity = fmt::format("{} after {}", form.then, form.after),
                  .limit = "",
                  .limit_stored = form.within_us,
                  .listened = view.facts.sources(form.after),
                  .remarks = {}};
  outcome.limit = "within " + span_words(form.within_us);
  const auto answerers = view.facts.sources(form.then);
  outcome.listened.insert(answerers.begin(), answerers.end());
  const int64_t horizon = horizon_us(view, outcome.listened);
  std::vector<Occasion> occasions;
  std::set<Reason> hidden;
  for (const Stamp& after : view.facts.events(form.after)) {
    if (!within_while(view, rule, after.time_us)) continue;
    Occasion occasion = occasion_of(view, rule, form, after, horizon);
    if (!excused(view, rule, *occasion.free_by_us))
      occasions.push_back(std::move(occasion));
    else  // A B that hides may have come before the rule was freed.
      add_hidden_between(view, rule, form.then, after.time_us, hidden);
  }
  if (rule.unless == form.after) {  // An A that hides frees the rule itself.
    doubt_unless(view, rule, occasions, Bounds::kAtLeast);
    conclude_with(outcome, occasions, {}, Bounds::kAtLeast);
  } else {
    conclude_universal(view, rule, outcome, occasions, form.after, Bounds::kAtLeast, hidden);
  }
  out.push_back(std::move(outcome));
}

}  // namespace fairlead::judge
