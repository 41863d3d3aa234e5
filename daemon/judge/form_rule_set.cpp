// all_of: the worst verdict of its rules (deviated, unproven, met) with the least margin in the
// unit of the first that has it; any_of is the dual: the best verdict, the greatest margin.
// A rule that does not apply does not count; a set of which none applies does not apply.
#include <fmt/format.h>

#include <algorithm>

#include "daemon/judge/forms.h"

namespace fairlead::judge {
namespace {

// 0 decides against all_of first; for any_of the order is turned round.
int rank_of(const Outcome& outcome, bool all) {
  const int rank = outcome.verdict == Verdict::kDeviated ? 0
                   : outcome.verdict == Verdict::kMet    ? 2
                                                         : 1;
  return all ? rank : 2 - rank;
}

int64_t margin_key(const Outcome& outcome) {
  const Range& margin = outcome.worst.margin;
  return margin.best ? *margin.best : margin.lo.value_or(kBeginning);
}

// Of those that decide, the first gives the unit; in that unit the least margin (any: greatest).
const Outcome* deciding(const std::vector<const Outcome*>& some, bool all) {
  const Outcome* found = nullptr;
  for (const Outcome* one : some) {
    if (found == nullptr || rank_of(*one, all) < rank_of(*found, all)) {
      found = one;
      continue;
    }
    if (rank_of(*one, all) != rank_of(*found, all) || one->unit != found->unit ||
        one->applies != found->applies)
      continue;
    const bool better =
        all ? margin_key(*one) < margin_key(*found) : margin_key(*one) > margin_key(*found);
    if (better) found = one;
  }
  return found;
}

}  // namespace

void judge_form(JobView& view, const Rule& rule, const RuleSet& form, Outcomes& out) {
  Outcomes parts;
  for (const Rule& one : form.rules) {
    std::visit([&](const auto& inner) { judge_form(view, one, inner, parts); }, one.form);
    for (Outcome& part : parts) {
      if (part.rule == nullptr) part.rule = &one;
    }
  }
  std::vector<const Outcome*> count;
  Outcome outcome{.rule_id = rule.id,
                  .applies = Applies::kNo,
                  .verdict = Verdict::kNone,
                  .worst = {},
                  .unit = parts.empty() ? "" : parts.front().unit,
                  .quantity = "",
                  .limit = "",
                  .limit_stored = {},
                  .listened = {},
                  .remarks = {}};
  for (const Outcome& part : parts) {
    outcome.listened.insert(part.listened.begin(), part.listened.end());
    outcome.doubted.insert(part.doubted.begin(), part.doubted.end());
    if (part.applies != Applies::kNo) count.push_back(&part);
  }
  const Outcome* shown = deciding(count, form.all);
  if (shown == nullptr) {
    outcome.members = std::move(parts);
    return out.push_back(std::move(outcome));
  }
  std::set<std::string> listened = std::move(outcome.listened),
                        doubted = std::move(outcome.doubted);
  outcome = *shown;
  outcome.rule_id = rule.id;
  outcome.rule = nullptr;
  outcome.listened = std::move(listened);
  outcome.doubted = std::move(doubted);
  outcome.worst.words =
      fmt::format("by '{}' of {} {}: {}", shown->rule_id, form.all ? "all" : "any",
                  form.rules.size(), shown->worst.words);
  const bool any_yes = std::any_of(
      count.begin(), count.end(), [](const Outcome* one) { return one->applies == Applies::kYes; });
  if (any_yes) outcome.applies = Applies::kYes;
  if (outcome.verdict == Verdict::kUnproven) {
    std::set<Reason> reasons;
    for (const Outcome* one : count) {
      if (one->verdict == Verdict::kUnproven) reasons.insert(one->reason);
    }
    outcome.reason = first_reason(reasons);
  }
  outcome.members = std::move(parts);
  out.push_back(std::move(outcome));
}

}  // namespace fairlead::judge
