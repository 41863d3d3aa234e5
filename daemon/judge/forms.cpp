#include "daemon/judge/forms.h"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/judge/vocabulary.h"

namespace fairlead::judge {
namespace {

// Places that show a stored unit exactly in the usual units.
constexpr int kPlaces = 4;

std::string_view bounds_word(Bounds bounds) {
  return bounds == Bounds::kUnder ? "under" : bounds == Bounds::kAtMost ? "at most" : "at least";
}

// Worse first: deviated before unproven before met, then the smaller margin.
bool worse(const Occasion& a, Verdict va, const Occasion& b, Verdict vb) {
  const auto rank = [](Verdict v) {
    return v == Verdict::kDeviated ? 0 : v == Verdict::kUnproven ? 1 : 2;
  };
  if (rank(va) != rank(vb)) return rank(va) < rank(vb);
  const auto key = [](const Occasion& o) {
    return o.margin.best ? *o.margin.best : o.margin.lo.value_or(kBeginning);
  };
  return key(a) < key(b);
}

// What hides only after the rule was freed is free itself.
std::vector<HiddenSpan> not_freed(JobView& view, const Rule& rule, std::vector<HiddenSpan> spans) {
  std::erase_if(spans,
                [&](const HiddenSpan& span) { return excused(view, rule, span.from_us + 1); });
  return spans;
}

std::vector<PhaseSpan> parts_within(const std::vector<PhaseSpan>& spans,
                                    const std::vector<PhaseSpan>& stays) {
  std::vector<PhaseSpan> inside;
  for (const PhaseSpan& span : spans) {
    for (const PhaseSpan& outer : stays) {
      PhaseSpan part = span;
      if (outer.open.time_us > part.open.time_us) part.open = outer.open;
      if (outer.close.time_us < part.close.time_us) {
        part.close = outer.close;
        part.closed = outer.closed;
      }
      if (part.open.time_us < part.close.time_us) inside.push_back(part);
    }
  }
  return inside;
}

// Where the rule's while_phase may have been open unseen, outside the stays that are known.
std::vector<HiddenSpan> unseen_while(JobView& view, const Rule& rule) {
  std::vector<HiddenSpan> spans = view.facts.hidden(view.facts.opener(rule.while_phase));
  const auto& known = view.facts.phase(rule.while_phase);
  std::erase_if(spans, [&](const HiddenSpan& span) {
    return std::any_of(known.begin(), known.end(), [&](const PhaseSpan& stay) {
      return stay.open.time_us <= span.from_us && span.to_us <= stay.close.time_us;
    });
  });
  return spans;
}

}  // namespace

Verdict verdict_of(const Occasion& occasion, Bounds bounds) {
  const int64_t edge = bounds == Bounds::kUnder ? 1 : 0;  // `under`: a margin of 0 is outside.
  if (occasion.margin.hi && *occasion.margin.hi < edge) return Verdict::kDeviated;
  if (occasion.margin.lo && *occasion.margin.lo >= edge && occasion.doubts.empty())
    return Verdict::kMet;
  return Verdict::kUnproven;
}

Occasion& worst_of(std::vector<Occasion>& occasions, Bounds bounds) {
  return *std::min_element(occasions.begin(), occasions.end(),
                           [&](const Occasion& a, const Occasion& b) {
                             return worse(a, verdict_of(a, bounds), b, verdict_of(b, bounds));
                           });
}

// No occasion: applies no, or unknown where one may hide.
void conclude_with(Outcome& outcome, const std::vector<Occasion>& occasions,
                   const std::set<Reason>& hidden, Bounds bounds) {
  if (occasions.empty()) {
    outcome.applies = hidden.empty() ? Applies::kNo : Applies::kUnknown;
    outcome.verdict = hidden.empty() ? Verdict::kNone : Verdict::kUnproven;
    outcome.reason = first_reason(hidden);
    return;
  }
  outcome.applies = Applies::kYes;
  const Occasion* worst = &occasions.front();
  Verdict verdict = verdict_of(*worst, bounds);
  std::set<Reason> doubts;
  for (const Occasion& occasion : occasions) {
    const Verdict own = verdict_of(occasion, bounds);
    if (own == Verdict::kUnproven) doubts.insert(occasion.doubts.begin(), occasion.doubts.end());
    if (own == Verdict::kUnproven && occasion.doubts.empty()) doubts.insert(Reason::kTooClose);
    if (worse(occasion, own, *worst, verdict)) {
      worst = &occasion;
      verdict = own;
    }
  }
  outcome.worst = *worst;
  outcome.verdict = verdict;
  if (worst->limit) outcome.limit_stored = worst->limit;
  if (verdict == Verdict::kUnproven) outcome.reason = first_reason(doubts);
}

std::set<Reason> hidden_reasons(JobView& view, const Rule& rule, const std::string& event) {
  std::set<Reason> reasons;
  for (const HiddenSpan& span : hidden_for(view, rule, event)) reasons.insert(span.reason);
  if (may_go_on(view, rule)) reasons.insert(Reason::kNotYet);
  return reasons;
}

void conclude(JobView& view, const Rule& rule, Outcome& outcome, std::vector<Occasion>& occasions,
              const std::string& opener, Bounds bounds) {
  doubt_unless(view, rule, occasions, bounds);
  conclude_with(outcome, occasions,
                occasions.empty() ? hidden_reasons(view, rule, opener) : std::set<Reason>{},
                bounds);
}

void conclude_universal(JobView& view, const Rule& rule, Outcome& outcome,
                        std::vector<Occasion>& occasions, const std::string& opener, Bounds bounds,
                        const std::set<Reason>& more) {
  doubt_unless(view, rule, occasions, bounds);
  std::set<Reason> hidden = more;
  if (occasions.empty()) {
    hidden.merge(hidden_reasons(view, rule, opener));
  } else {
    for (const HiddenSpan& span : hidden_for(view, rule, opener)) {
      if (span.from_us < view.lines.end_us()) hidden.insert(span.reason);
    }
    worst_of(occasions, bounds).doubts.insert(hidden.begin(), hidden.end());
  }
  conclude_with(outcome, occasions, hidden, bounds);
}

std::vector<HiddenSpan> hidden_for(JobView& view, const Rule& rule, const std::string& event) {
  const std::vector<HiddenSpan> spans = not_freed(view, rule, view.facts.hidden(event));
  if (rule.while_phase.empty()) return spans;
  const std::vector<HiddenSpan> unseen = unseen_while(view, rule);
  std::vector<HiddenSpan> found;
  const auto clip = [&](const HiddenSpan& span, int64_t from_us, int64_t to_us) {
    from_us = std::max(from_us, span.from_us);
    to_us = std::min(to_us, span.to_us);
    if (from_us < to_us) found.push_back({from_us, to_us, span.reason});
  };
  for (const HiddenSpan& span : spans) {
    for (const PhaseSpan& within : view.facts.phase(rule.while_phase))
      clip(span, within.possibly_from(), within.possibly_to());
    for (const HiddenSpan& may_be : unseen) clip(span, may_be.from_us, may_be.to_us);
  }
  // What was seen while the phase may have been open unseen.
  for (const Stamp& stamp : view.facts.events(event)) {
    if (excused(view, rule, stamp.time_us)) continue;
    for (const HiddenSpan& may_be : unseen) {
      if (may_be.from_us <= stamp.time_us && stamp.time_us < may_be.to_us)
        found.push_back({stamp.time_us, stamp.time_us + 1, may_be.reason});
    }
  }
  return found;
}

std::vector<HiddenSpan> gaps_for(JobView& view, const Rule& rule, const std::string& event) {
  return not_freed(view, rule, view.facts.hidden_in_gaps(event));
}

std::set<Reason> hidden_stays(JobView& view, const Rule& rule, const std::string& phase) {
  return hidden_stays(view, rule, view.facts.phase(phase));
}

std::set<Reason> hidden_stays(JobView& view, const Rule& rule,
                              const std::vector<PhaseSpan>& spans) {
  std::set<Reason> reasons;
  if (rule.while_phase.empty()) return reasons;
  for (const HiddenSpan& unseen : unseen_while(view, rule)) {
    for (const PhaseSpan& span : spans) {
      const int64_t from_us = std::max(unseen.from_us, span.possibly_from());
      if (from_us < std::min(unseen.to_us, span.possibly_to()) && !excused(view, rule, from_us + 1))
        reasons.insert(unseen.reason);
    }
  }
  return reasons;
}

std::vector<HiddenSpan> hidden_unless(JobView& view, const Rule& rule) {
  // What ends the job cannot hide before lines that go on.
  if (rule.unless.empty() || rule.unless == "abandoned" || rule.unless == "closed") return {};
  return view.facts.hidden_in_gaps(rule.unless);
}

void doubt_unless(JobView& view, const Rule& rule, std::span<Occasion> occasions, Bounds bounds) {
  for (const HiddenSpan& span : hidden_unless(view, rule)) {
    for (Occasion& occasion : occasions) {
      if (span.from_us >= occasion.free_by_us.value_or(*occasion.at_us)) continue;
      if (verdict_of(occasion, bounds) != Verdict::kDeviated) continue;
      occasion.margin.hi.reset();
      occasion.doubts.insert(span.reason);
    }
  }
}

void add_hidden_between(JobView& view, const Rule& rule, const std::string& event, int64_t from_us,
                        std::set<Reason>& reasons) {
  for (const HiddenSpan& span : gaps_for(view, rule, event)) {
    if (span.to_us > from_us && !excused(view, rule, std::max(span.from_us, from_us) + 1))
      reasons.insert(span.reason);
  }
}

int64_t horizon_us(const JobView& view, const std::set<std::string>& sources) {
  if (view.lines.closed() != kNoLine) return view.lines.end_us();
  int64_t horizon = view.lines.end_us();
  for (const std::string& source : sources) {
    if (const auto mark = view.lines.last_us(source)) horizon = std::min(horizon, *mark);
  }
  return horizon;
}

void cite(const JobView& view, const Stamp& stamp, const std::string& role, Occasion& occasion) {
  occasion.basis = weaker(occasion.basis, stamp.basis);
  if (stamp.line == kNoLine) return;
  occasion.evidence.push_back(evidence_of(view, stamp.line, role));
}

Reason first_reason(const std::set<Reason>& reasons) {
  return reasons.empty() ? Reason::kNone : *reasons.begin();  // The enum stands in precedence.
}

Evidence evidence_of(const JobView& view, int line, const std::string& role) {
  const JobLine& cited = view.lines.line(line);
  return {view.lines.source_of(cited), cited.read->seq, role};
}

Basis weaker(Basis a, Basis b) { return std::max(a, b); }

Range limit_at(JobView& view, const Limit& limit, int64_t time_us) {
  if (!limit.quantity.empty()) {
    const Interval at = view.quantities.limit_at(limit.quantity, time_us);
    return {at.lo, at.best, at.hi};
  }
  std::optional<int64_t> value = limit.constant;
  if (!limit.field.empty() && view.parties.vehicle != nullptr) {
    const VehicleItem& vehicle = *view.parties.vehicle;
    const auto& fields = limit.up ? vehicle.fields_up : vehicle.fields;
    const auto field = fields.find(limit.field);
    if (field != fields.end()) value = field->second;
  }
  return {value, value, value};
}

namespace {

// What the register lacks of what the limit asks it for.
std::vector<std::string> not_on_file(JobView& view, const Limit& limit) {
  if (view.lines.opened() == kNoLine) return {};
  const v1::Opened& opened = view.lines.line(view.lines.opened()).observation->opened();
  const JobParties& parties = view.parties;
  if (limit.quantity == "line.rating" && parties.truck == nullptr)
    return {fmt::format("truck '{}' is not in the register", opened.truck())};
  if (limit.quantity == "line.rating" && !parties.truck->line_rating_n)
    return {fmt::format("the register has no line_rating of truck '{}'", opened.truck())};
  const bool named = !opened.vehicle().empty() && opened.vehicle() != "unknown";
  if (!limit.field.empty() && parties.vehicle == nullptr && named)
    return {fmt::format("vehicle '{}' is not in the register", opened.vehicle())};
  return {};
}

}  // namespace

void describe_limit(JobView& view, const Limit& limit, Bounds bounds, Outcome& outcome) {
  outcome.remarks = not_on_file(view, limit);
  outcome.dimension = limit.dimension;
  outcome.unit = limit.unit;
  if (!limit.constant && !limit.field.empty() && view.parties.vehicle != nullptr) {
    const auto unit = view.parties.vehicle->units.find(limit.field);
    if (unit != view.parties.vehicle->units.end()) outcome.unit = unit->second;
  }
  if (!limit.quantity.empty()) {
    outcome.limit = fmt::format("{} {}", bounds_word(bounds), limit.quantity);
    if (limit.quantity == "line.rating")
      std::ranges::copy(view.rigging.gear_not_counting(), std::back_inserter(outcome.remarks));
    return;
  }
  const Range value = limit_at(view, limit, 0);
  outcome.limit_stored = value.best;
  if (!value.best) {
    outcome.limit = fmt::format("{} {}, which no file gives", bounds_word(bounds), limit.field);
    return;
  }
  // The limit as it was written, where that is the one in force.
  std::string text = printed(outcome, *value.best, Toward::kNearest) + " " + outcome.unit;
  if (limit.constant && *limit.constant == *value.best) {
    const size_t either = limit.text.find(" or ");
    text = either == std::string::npos ? limit.text : limit.text.substr(either + 4);
  } else if (view.parties.vehicle != nullptr && !limit.field.empty()) {
    const auto* field = view.parties.vehicle->text.GetDescriptor()->FindFieldByName(
        limit.field.substr(limit.field.find('.') + 1));
    if (field != nullptr)
      text =
          view.parties.vehicle->text.GetReflection()->GetString(view.parties.vehicle->text, field);
  }
  outcome.limit = fmt::format("{} {}", bounds_word(bounds), text);
}

bool excused(JobView& view, const Rule& rule, int64_t time_us) {
  if (rule.unless.empty()) return false;
  const auto& stamps = view.facts.events(rule.unless);
  return std::any_of(stamps.begin(), stamps.end(),
                     [&](const Stamp& stamp) { return stamp.time_us < time_us; });
}

bool may_go_on(JobView& view, const Rule& rule) {
  return view.lines.closed() == kNoLine && !excused(view, rule, view.lines.end_us() + 1);
}

std::vector<PhaseSpan> within_while(JobView& view, const Rule& rule,
                                    const std::vector<PhaseSpan>& spans) {
  if (rule.while_phase.empty()) return spans;
  return parts_within(spans, view.facts.phase(rule.while_phase));
}

std::vector<PhaseSpan> surely_within_while(JobView& view, const Rule& rule,
                                           const std::vector<PhaseSpan>& spans) {
  if (rule.while_phase.empty()) return spans;
  std::vector<PhaseSpan> sure = view.facts.phase(rule.while_phase);
  for (PhaseSpan& stay : sure) {
    const auto may_close = view.facts.may_close(rule.while_phase, "", stay);
    if (!may_close) continue;
    stay.close = {};
    stay.close.time_us = may_close->from_us;
    stay.closed = true;
  }
  return parts_within(spans, sure);
}

std::set<Reason> may_be_outside(JobView& view, const Rule& rule, int64_t time_us) {
  std::set<Reason> reasons;
  if (rule.while_phase.empty()) return reasons;
  for (const PhaseSpan& stay : view.facts.phase(rule.while_phase)) {
    if (stay.open.time_us > time_us || time_us >= stay.close.time_us) continue;
    const auto may_close = view.facts.may_close(rule.while_phase, "", stay);
    if (may_close && may_close->from_us <= time_us) reasons.insert(may_close->reason);
  }
  return reasons;
}

void doubt_outside(JobView& view, const Rule& rule, int64_t time_us, Occasion& occasion) {
  if (!occasion.margin.hi || *occasion.margin.hi >= 0) return;
  const std::set<Reason> reasons = may_be_outside(view, rule, time_us);
  if (reasons.empty()) return;
  occasion.margin.hi.reset();
  occasion.doubts.insert(reasons.begin(), reasons.end());
}

std::vector<PhaseSpan> until_freed(JobView& view, const Rule& rule, std::vector<PhaseSpan> spans) {
  for (const Stamp& free : view.facts.events(rule.unless)) {
    std::erase_if(spans, [&](const PhaseSpan& s) { return free.time_us <= s.open.time_us; });
    for (PhaseSpan& span : spans) {
      if (free.time_us >= span.close.time_us) continue;
      span.close = free;
      span.closed = true;
    }
  }
  return spans;
}

bool within_while(JobView& view, const Rule& rule, int64_t time_us) {
  if (rule.while_phase.empty()) return true;
  const auto& spans = view.facts.phase(rule.while_phase);
  return std::any_of(spans.begin(), spans.end(), [&](const PhaseSpan& span) {
    return span.open.time_us <= time_us && time_us < span.close.time_us;
  });
}

std::optional<PhaseSpan> on_clock_of(const JobView& view, const std::set<std::string>& sources,
                                     const PhaseSpan& span) {
  PhaseSpan placed = span;
  for (Stamp* end : {&placed.open, &placed.close}) {
    const auto width_us = view.lines.clock_width_us(sources, *end);
    if (!width_us) return std::nullopt;
    end->early_us += *width_us;
    end->late_us += *width_us;
  }
  return placed;
}

std::string printed(const Outcome& outcome, int64_t stored, Toward toward) {
  const Rational factor = unit_factor(outcome.unit, outcome.dimension).value_or(Rational{1, 1});
  constexpr int kMostPlaces = 12;
  std::string text;
  // What is not 0 is never printed as 0: its sign is the verdict.
  for (int places = kPlaces; places <= kMostPlaces; places += 2) {
    text = format_in_unit(stored, factor, places, toward);
    if (stored == 0 || text != "0") break;
  }
  return text;
}

}  // namespace fairlead::judge
