#include "daemon/judge/antecedent.h"

#include <algorithm>

namespace fairlead::judge {
namespace {

const Stamp* next_after(const std::vector<Stamp>& stamps, int64_t time_us) {
  for (const Stamp& stamp : stamps) {
    if (stamp.time_us > time_us) return &stamp;
  }
  return nullptr;
}

// Whether the clocks leave open that `a` came after `b`, which it does not as they show it.
bool may_follow(const Stamp& a, const Stamp& b) {
  const auto lead = time_from_to(a, b);
  return !lead || lead->lo_us < 0;
}

// Whether the fact may have been otherwise at `then`, as far as the clocks go: the edge that ended
// what is looked for may have come after it, or the one that ends it before it.
bool otherwise_by_clock(JobView& view, const FactEvent& edge, const Stamp& then, bool in_force) {
  const std::vector<Stamp>& ends = view.facts.events(edge.fact + (edge.on ? ".off" : ".on"));
  const Stamp* next = next_after(ends, then.time_us);
  if (in_force) return next != nullptr && may_follow(then, *next);
  const auto after = std::upper_bound(ends.begin(), ends.end(), then.time_us,
                                      [](int64_t t, const Stamp& s) { return t < s.time_us; });
  Stamp at = then;  // As its own line has it: how far a gap dates it back is for others to weigh.
  at.early_us = then.line == kNoLine ? 0 : view.lines.line(then.line).stamp.early_us;
  return after != ends.begin() && may_follow(*std::prev(after), at);
}

}  // namespace

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
  if (otherwise_by_clock(view, edge, then, (now == Tri::kTrue) == edge.on)) {
    found.doubts.insert(Reason::kClockDoubt);
    found.by_clock = true;
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

Antecedent since_last(JobView& view, const std::string& name, const Stamp* last_then,
                      const Stamp& then, bool latest) {
  Antecedent found;
  const std::vector<Stamp>& stamps = view.facts.events(name);
  const int64_t from_us = last_then == nullptr ? kBeginning : last_then->time_us;
  bool maybe = false;  // Another may count, as far as the clocks go.
  for (const Stamp& stamp : stamps) {
    const bool late = stamp.time_us > then.time_us;
    if (stamp.time_us <= from_us) maybe = maybe || may_follow(stamp, *last_then);
    if (latest && late) maybe = maybe || may_follow(then, stamp);
    if (stamp.time_us <= from_us || late) continue;
    if (latest || found.before == nullptr) found.before = &stamp;
  }
  // It may belong to the `then` before.
  const bool doubtful =
      found.before != nullptr && last_then != nullptr && may_follow(*last_then, *found.before);
  if (doubtful || (maybe && (latest || found.before == nullptr))) {
    found.before = nullptr;
    found.doubts.insert(Reason::kClockDoubt);
    return found;
  }
  if (found.before != nullptr) return found;
  for (const HiddenSpan& span : view.facts.hidden(name)) {
    if (span.to_us > from_us && span.from_us < then.time_us) found.doubts.insert(span.reason);
  }
  found.after = next_after(stamps, then.time_us);
  return found;
}

}  // namespace fairlead::judge
