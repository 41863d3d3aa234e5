// enough_strength: at every instant of the phase the credited ratings reach a share of the mass
// (49 CFR 393.106(d) with times_mass 0.5). m = sum - k x mass, exact where plates and mass are.
// A second finding RULE.count holds the number of pieces against the least number.
//
// Which rules of securement hold is the base's setting in the register, and the sentence names it.
// Rules that ask for forces (EN 12195-1) are not shown by a sum of ratings: no record holds the
// directions of straps, so the strength is then unproven.
#include <fmt/format.h>

#include <algorithm>

#include "daemon/judge/margins.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

// k x mass, rounded against whoever gains by it.
Range needed_g(const JobView& view, const EnoughStrength& form) {
  const Interval& mass = view.parties.mass_g;
  const auto times = [&](int64_t grams, bool up) {
    const Wide product =
        static_cast<Wide>(grams) * (up ? form.times_mass_up_ppm : form.times_mass_ppm);
    return up ? ceil_div(product, 1'000'000) : floor_div(product, 1'000'000);
  };
  if (!mass.best) return {};
  return {times(*mass.lo, false), times(*mass.best, false), times(*mass.hi, true)};
}

void cite(JobView& view, const PhaseSpan& span, const Strength& step, int64_t at_us,
          Occasion& occasion) {
  occasion.at_us = at_us;
  cite(view, span.open, "opens", occasion);
  for (const int line : step.lines) {
    if (occasion.evidence.size() < 4)
      occasion.evidence.push_back(evidence_of(view, line, "critical"));
  }
  // Plates and pieces are said, whatever opened the phase.
  occasion.basis = Basis::kSaid;
}

Occasion strength_at(JobView& view, const EnoughStrength& form, const PhaseSpan& span,
                     const Strength& step, int64_t at_us) {
  Occasion occasion;
  const Range need = needed_g(view, form);
  if (!need.best) {
    occasion.doubts.insert(Reason::kNoData);
  } else {
    occasion.margin.lo = step.lo_g - *need.hi;
    occasion.margin.best = step.best_g - *need.best;
    if (step.hi_g) occasion.margin.hi = *step.hi_g - *need.lo;
    occasion.doubts = step.doubts;  // Weighed only where the ends lie on both sides.
    occasion.limit = need.best;
  }
  clear_if_inside(occasion);
  occasion.value = {step.lo_g, step.best_g, step.hi_g};
  cite(view, span, step, at_us, occasion);
  occasion.words = fmt::format(
      "{} in '{}'", form.tiedowns ? "credited strength of the tiedowns" : "strength of the rigging",
      form.phase);
  return occasion;
}

// The setting of the base, where it has one.
const BaseItem* setting_of(const JobView& view, const EnoughStrength& form) {
  return form.tiedowns ? view.rules.book.base() : nullptr;
}

std::string rules_remark(const BaseItem& base) {
  const std::string name = fmt::format("the base goes by {} ({})", physics::rules_of(base.rules),
                                       physics::name_of(base.rules));
  if (!physics::asks_for_directions(base.rules)) return name;
  return name +
         ", which asks for the forces on each strap and so for its direction; the record "
         "holds none";
}

Occasion count_at(JobView& view, const EnoughStrength& form, const PhaseSpan& span,
                  const Strength& step, int64_t at_us) {
  Occasion occasion;
  const int64_t least = form.least_count;
  occasion.margin = {step.count_lo - least, step.count_best - least, std::nullopt};
  if (step.count_hi) occasion.margin.hi = *step.count_hi - least;
  occasion.doubts = step.count_doubts;
  clear_if_inside(occasion);
  occasion.value = {step.count_lo, step.count_best, step.count_hi};
  occasion.limit = least;
  cite(view, span, step, at_us, occasion);
  occasion.words = fmt::format("pieces that count in '{}'", form.phase);
  return occasion;
}

// The step may lie outside the phase.
void accuse_nobody(Occasion& occasion, Reason why) {
  if (!occasion.margin.hi || *occasion.margin.hi >= 0) return;
  occasion.margin.hi = 0;
  occasion.doubts.insert(why);
}

}  // namespace

void judge_form(JobView& view, const Rule& rule, const EnoughStrength& form, Outcomes& out) {
  Outcome strength{.rule_id = rule.id,
                   .worst = {},
                   .dimension = Dimension::kMass,
                   .unit = "kg",
                   .quantity = form.tiedowns ? "tiedowns.strength" : "rigging strength",
                   .limit = "",
                   .limit_stored = {},
                   .listened = view.facts.sources(view.facts.opener(form.phase)),
                   .remarks = {}};
  const std::string share =
      format_in_unit(form.times_mass_ppm, Rational{1'000'000, 1}, 3, Toward::kNearest);
  strength.limit = fmt::format("at least {} x mass", share);
  const BaseItem* base = setting_of(view, form);
  const bool by_forces = base != nullptr && physics::asks_for_directions(base->rules);
  Outcome count = strength;
  count.rule_id += ".count";
  count.dimension = Dimension::kCount;
  count.unit = "items";
  count.quantity = form.tiedowns ? "tiedowns.count" : "rigging count";
  count.limit = fmt::format("at least {}", form.least_count);
  if (base != nullptr) strength.remarks.push_back(rules_remark(*base));

  std::vector<Occasion> strengths, counts;
  const auto& steps = form.tiedowns ? view.rigging.tiedowns() : view.rigging.rigging();
  const auto attached_by = view.facts.sources(form.tiedowns ? "tied" : "rigging");
  for (const PhaseSpan& stay : within_while(view, rule, view.facts.phase(form.phase))) {
    const auto placed = on_clock_of(view, attached_by, stay);
    const PhaseSpan span = placed.value_or(stay);
    const auto may_close = view.facts.may_close(form.phase, rule.while_phase, span);
    for (const Strength& step : steps) {
      if (step.to_us <= span.possibly_from() || step.from_us >= span.possibly_to()) continue;
      const int64_t at_us = std::max(step.from_us, span.open.time_us);
      if (excused(view, rule, at_us)) continue;
      strengths.push_back(strength_at(view, form, span, step, at_us));
      if (by_forces) {
        strengths.back().margin = {};
        strengths.back().doubts.insert(Reason::kNoData);
      }
      counts.push_back(count_at(view, form, span, step, at_us));
      if (!placed ||
          std::max(step.from_us, span.surely_from()) >= std::min(step.to_us, span.surely_to())) {
        accuse_nobody(strengths.back(), Reason::kClockDoubt);
        accuse_nobody(counts.back(), Reason::kClockDoubt);
      }
      if (may_close && at_us >= may_close->from_us) {
        accuse_nobody(strengths.back(), may_close->reason);
        accuse_nobody(counts.back(), may_close->reason);
      }
      if (!span.closed) {
        strengths.back().doubts.insert(Reason::kNotYet);
        counts.back().doubts.insert(Reason::kNotYet);
      }
      for (const std::string& remark : step.remarks) {
        if (std::find(strength.remarks.begin(), strength.remarks.end(), remark) ==
            strength.remarks.end())
          strength.remarks.push_back(remark);
      }
    }
  }
  const auto finish = [&](Outcome& outcome, std::vector<Occasion>& occasions) {
    conclude_universal(view, rule, outcome, occasions, view.facts.opener(form.phase),
                       Bounds::kAtLeast, hidden_stays(view, rule, form.phase));
    out.push_back(outcome);
  };
  finish(strength, strengths);
  if (form.least_count > 0) finish(count, counts);
}

}  // namespace fairlead::judge
