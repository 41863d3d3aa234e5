#include "daemon/judge/antecedent.h"

namespace fairlead::judge {
namespace {

const Stamp* next_after(const std::vector<Stamp>& stamps, int64_t time_us) {
  for (const Stamp& stamp : stamps) {
    if (stamp.time_us > time_us) return &stamp;
  }
  return nullptr;
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
  for (const Stamp& stamp : stamps) {
    if (stamp.time_us <= from_us || stamp.time_us > then.time_us) continue;
    if (latest || found.before == nullptr) found.before = &stamp;
  }
  if (found.before != nullptr) return found;
  for (const HiddenSpan& span : view.facts.hidden(name)) {
    if (span.to_us > from_us && span.from_us < then.time_us) found.doubts.insert(span.reason);
  }
  found.after = next_after(stamps, then.time_us);
  return found;
}

}  // namespace fairlead::judge
