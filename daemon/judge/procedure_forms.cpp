// Reading the rule forms of a procedure file: each field checked and turned into whole numbers.
#include <fmt/format.h>

#include "daemon/judge/procedure_fields.h"

namespace fairlead::judge {
namespace {

constexpr int kDeepestSet = 2;

using Fields = ProcedureFields;

// An event beside itself answers itself: the rule would say the same of every job.
void differ(Fields& fields, const PlaceTree* tree, const Fields::Message& text,
            const std::string& first, const std::string& first_event, const std::string& second,
            const std::string& second_event, const std::string& remedy = "name the other event") {
  if (!first_event.empty() && first_event == second_event)
    fields.note_senseless(tree, text, second, fmt::format("equals `{}`; {}", first, remedy));
}

// Why the edge `first` is over whenever `then` comes, so that it is never in force at it; else "".
std::string over_by(const std::string& first, const std::string& then) {
  const auto a = fact_event(first), b = fact_event(then);
  if (!a || !b) return "";
  if (a->fact == b->fact && a->on != b->on) return fmt::format("'{}' ends '{}'", then, first);
  const auto is_mode = [](const std::string& fact) { return fact.starts_with("mode."); };
  if (a->on && b->on && a->fact != b->fact && is_mode(a->fact) && is_mode(b->fact))
    return fmt::format("'{}' ends '{}', as there is one mode at a time", then, first);
  return "";
}

ComesFirst read(Fields& fields, const v1::ComesFirst& text, const PlaceTree* tree) {
  fields.need_event(tree, text, "first", text.first());
  fields.need_event(tree, text, "then", text.then());
  differ(fields, tree, text, "first", text.first(), "then", text.then());
  if (const std::string over = over_by(text.first(), text.then()); !over.empty() && !text.ever())
    fields.note_senseless(
        tree, text, "first",
        over + ", and must be in force at it; if once before is enough, add ever: true");
  ComesFirst form{text.first(), text.then(), 0, text.ever()};
  form.min_gap_us =
      fields.quantity(tree, text, "min_gap", text.min_gap(), Dimension::kTime).value_or(0);
  return form;
}

FollowsWithin read(Fields& fields, const v1::FollowsWithin& text, const PlaceTree* tree) {
  fields.need_event(tree, text, "after", text.after());
  fields.need_event(tree, text, "then", text.then());
  differ(fields, tree, text, "after", text.after(), "then", text.then(),
         "it answers itself at once; for again and again use recheck_every");
  return {text.after(), text.then(),
          fields.need_quantity_text(tree, text, "within", text.within(), Dimension::kTime)};
}

StaysUntil read(Fields& fields, const v1::StaysUntil& text, const PlaceTree* tree) {
  fields.need_fact(tree, text, "state", text.state());
  fields.need_event(tree, text, "until", text.until());
  StaysUntil form{.state = text.state(), .until = text.until(), .at_least = {}, .at_most = {}};
  form.at_least = fields.limit_if_any(tree, text, "at_least", text.at_least(), Dimension::kTime);
  form.at_most = fields.limit_if_any(tree, text, "at_most", text.at_most(), Dimension::kTime);
  if (form.at_least && form.at_most && form.at_least->constant && form.at_most->constant &&
      *form.at_least->constant > *form.at_most->constant)
    fields.note(tree, text, "at_most", "is less than `at_least`; nothing could meet both");
  form.bridge_us =
      fields.quantity(tree, text, "bridge", text.bridge(), Dimension::kTime).value_or(0);
  return form;
}

WaitBetween read(Fields& fields, const v1::WaitBetween& text, const PlaceTree* tree) {
  fields.need_event(tree, text, "from", text.from());
  fields.need_event(tree, text, "to", text.to());
  differ(fields, tree, text, "from", text.from(), "to", text.to());
  if (const std::string over = over_by(text.from(), text.to()); !over.empty())
    fields.note_senseless(tree, text, "from",
                          over +
                              ", and must be in force at it; for how long something lasts use "
                              "stays_until, for how soon the other follows use follows_within");
  WaitBetween form{.from = text.from(), .to = text.to(), .wait = {}};
  fields.read_limit(tree, text, Dimension::kTime, form.bounds, form.wait);
  return form;
}

LimitInPhase read(Fields& fields, const v1::LimitInPhase& text, const PlaceTree* tree) {
  LimitInPhase form{.phase = text.phase(),
                    .quantity = text.quantity(),
                    .bounds = {},
                    .limit = {},
                    .sustained_us = 0,
                    .longest_gap_us = {}};
  fields.need_phase(tree, text, "phase", text.phase());
  const QuantityInfo* info = fields.need_quantity(tree, text, text.quantity(), "quantity");
  if (info != nullptr && info->total)
    fields.note(tree, text, "quantity",
                fmt::format("'{}' is a total; use total_in_phase", text.quantity()));
  if (info != nullptr) fields.read_limit(tree, text, info->dimension, form.bounds, form.limit);
  form.sustained_us =
      fields.quantity(tree, text, "sustained", text.sustained(), Dimension::kTime).value_or(0);
  form.longest_gap_us =
      fields.quantity(tree, text, "longest_gap", text.longest_gap(), Dimension::kTime);
  return form;
}

TotalInPhase read(Fields& fields, const v1::TotalInPhase& text, const PlaceTree* tree) {
  TotalInPhase form{.phase = text.phase(),
                    .quantity = text.quantity(),
                    .bounds = {},
                    .limit = {},
                    .per = v1::Per::HANDLING,
                    .longest_gap_us = {}};
  fields.need_phase(tree, text, "phase", text.phase());
  const QuantityInfo* info = fields.need_quantity(tree, text, text.quantity(), "quantity");
  if (info != nullptr && !info->total)
    fields.note(tree, text, "quantity",
                fmt::format("'{}' is not a total; use limit_in_phase", text.quantity()));
  if (info != nullptr) fields.read_limit(tree, text, info->dimension, form.bounds, form.limit);
  if (text.per() != v1::Per::UNSET) form.per = text.per();
  form.longest_gap_us =
      fields.quantity(tree, text, "longest_gap", text.longest_gap(), Dimension::kTime);
  return form;
}

// "100 m under 10 km/h".
std::optional<MoveClear> move_clear_of(Fields& fields, const v1::NeverTogether& text,
                                       const PlaceTree* tree) {
  const std::string& words = text.move_clear();
  if (words.empty()) return std::nullopt;
  const size_t under = words.find(" under ");
  if (under == std::string::npos) {
    fields.note(
        tree, text, "move_clear",
        fmt::format("'{}' is no distance and speed; write it as \"100 m under 10 km/h\"", words));
    return std::nullopt;
  }
  const auto way =
      fields.quantity(tree, text, "move_clear", words.substr(0, under), Dimension::kLength);
  const auto speed =
      fields.quantity(tree, text, "move_clear", words.substr(under + 7), Dimension::kSpeed);
  if (!way || !speed) return std::nullopt;
  // As every `under` (Limit).
  const auto exact = parse_quantity(words.substr(under + 7), Dimension::kSpeed);
  return MoveClear{*way, exact ? exact->ceil() : *speed, words};
}

NeverTogether read(Fields& fields, const v1::NeverTogether& text, const PlaceTree* tree) {
  fields.need_fact(tree, text, "state", text.state());
  fields.need_fact(tree, text, "with", text.with());
  if (!text.state().empty() && text.state() == text.with())
    fields.note(tree, text, "with", "equals `state`; name the other state");
  NeverTogether form{.state = text.state(), .with = text.with(), .move_clear = {}};
  form.tolerate_us =
      fields.quantity(tree, text, "tolerate", text.tolerate(), Dimension::kTime).value_or(0);
  form.move_clear = move_clear_of(fields, text, tree);
  return form;
}

EnoughStrength read(Fields& fields, const v1::EnoughStrength& text, const PlaceTree* tree) {
  EnoughStrength form{.phase = text.phase(),
                      .tiedowns = text.of() == "tiedowns",
                      .times_mass_ppm = 0,
                      .least_count = text.least_count()};
  fields.need_phase(tree, text, "phase", text.phase());
  if (text.of() != "tiedowns" && text.of() != "rigging")
    fields.note(tree, text, "of",
                text.of().empty()
                    ? "is missing; write \"tiedowns\" or \"rigging\""
                    : fmt::format("'{}' is neither 'tiedowns' nor 'rigging'", text.of()));
  const auto share =
      fields.quantity(tree, text, "times_mass", text.times_mass(), Dimension::kShare);
  if (!share)
    fields.note(tree, text, "times_mass", "is missing; give the share of the mass, as \"0.5\"");
  form.times_mass_ppm = form.times_mass_up_ppm = share.value_or(0);
  if (const auto exact = parse_quantity(text.times_mass(), Dimension::kShare); share && exact) {
    form.times_mass_ppm = exact->floor();
    form.times_mass_up_ppm = exact->ceil();
  }
  return form;
}

RecheckEvery read(Fields& fields, const v1::RecheckEvery& text, const PlaceTree* tree) {
  RecheckEvery form{.phase = text.phase(),
                    .check = text.check(),
                    .distance = {},
                    .time = {},
                    .first_distance = {},
                    .first_time = {},
                    .parked_counts = text.parked_counts()};
  fields.need_phase(tree, text, "phase", text.phase());
  fields.need_event(tree, text, "check", text.check());
  const auto limit = [&](const char* field, const std::string& value, Dimension dimension) {
    return fields.limit_if_any(tree, text, field, value, dimension);
  };
  form.distance = limit("distance", text.distance(), Dimension::kLength);
  form.time = limit("time", text.time(), Dimension::kTime);
  form.first_distance = limit("first_distance", text.first_distance(), Dimension::kLength);
  form.first_time = limit("first_time", text.first_time(), Dimension::kTime);
  if (!form.distance && !form.time && !form.first_distance && !form.first_time)
    fields.note(tree, text, "distance",
                "is missing; give it, a `time`, a `first_distance` or a `first_time`");
  return form;
}

EvidencePresent read(Fields& fields, const v1::EvidencePresent& text, const PlaceTree* tree) {
  EvidencePresent form{.items = {text.item().begin(), text.item().end()},
                       .at_least = text.at_least(),
                       .before = text.before(),
                       .after = text.after(),
                       .window_us = {},
                       .radius_mm = {}};
  if (text.item_size() == 0) fields.note(tree, text, "item", "is missing; name at least one event");
  for (int i = 0; i < text.item_size(); ++i)
    fields.check_event_at(tree, text, "item", text.item(i), i);
  if (text.at_least() == 0)
    fields.note(tree, text, "at_least", "is missing; give a number of items from 1");
  fields.exactly_one(tree, text, {"before", "after"});
  for (int i = 0; i < text.item_size(); ++i) {
    const bool itself = text.item(i) == text.before() || text.item(i) == text.after();
    if (itself && !text.item(i).empty())
      fields.note_senseless(tree, text, "item",
                            "is what it is to come before or after; name another", i);
  }
  if (!text.before().empty()) fields.check_event_at(tree, text, "before", text.before());
  if (!text.after().empty()) fields.check_event_at(tree, text, "after", text.after());
  form.window_us = fields.quantity(tree, text, "window", text.window(), Dimension::kTime);
  form.radius_mm = fields.quantity(tree, text, "radius", text.radius(), Dimension::kLength);
  return form;
}

CountLimit read(Fields& fields, const v1::CountLimit& text, const PlaceTree* tree) {
  CountLimit form{.phase = text.phase(), .event = text.event()};
  fields.need_phase(tree, text, "phase", text.phase());
  fields.need_event(tree, text, "event", text.event());
  fields.exactly_one(tree, text, {"at_most", "exactly", "at_least"});
  using Kind = CountLimit::Kind;
  form.kind = text.has_at_most()   ? Kind::kAtMost
              : text.has_exactly() ? Kind::kExactly
                                   : Kind::kAtLeast;
  form.number = text.has_at_most()   ? text.at_most()
                : text.has_exactly() ? text.exactly()
                                     : text.at_least();
  if (text.has_at_least() && text.at_least() == 0)
    fields.note(tree, text, "at_least", "is 0, which every job meets; give a number from 1");
  return form;
}

SourcesAgree read(Fields& fields, const v1::SourcesAgree& text, const PlaceTree* tree) {
  SourcesAgree form{.phase = text.phase(),
                    .claim = text.claim(),
                    .quantity = text.quantity(),
                    .with = text.with(),
                    .unit = "s"};
  fields.need_phase(tree, text, "phase", text.phase());
  fields.exactly_one(tree, text, {"claim", "quantity"});
  if (!text.claim().empty()) {
    fields.check_event_at(tree, text, "claim", text.claim());
    differ(fields, tree, text, "claim", text.claim(), "with", text.with(),
           "name the event or quantity that shows it");
    if (text.with().empty())
      fields.note(tree, text, "with", "is missing; name the event or quantity that shows it");
    else if (find_quantity(text.with()) == nullptr)
      fields.check_event_at(tree, text, "with", text.with());
  } else if (!text.quantity().empty()) {
    const QuantityInfo* info = fields.need_quantity(tree, text, text.quantity(), "quantity");
    const QuantityInfo* other = fields.need_quantity(tree, text, text.with(), "with");
    if (info != nullptr) form.dimension = info->dimension;
    if (info != nullptr && other != nullptr && info->dimension != other->dimension)
      fields.note(
          tree, text, "with",
          fmt::format("'{}' is {}, but '{}' is {}", text.with(), a_dimension(other->dimension),
                      text.quantity(), a_dimension(info->dimension)));
    if (text.with() == text.quantity())
      fields.note(tree, text, "with", "equals `quantity`; name another one");
  }
  form.within = fields.need_quantity_text(tree, text, "within", text.within(), form.dimension);
  if (form.dimension != Dimension::kTime) {
    const auto written = parse_quantity(text.within(), form.dimension);
    form.unit = written && !written->unit.empty() ? written->unit
                                                  : std::string(display_unit(form.dimension));
  }
  return form;
}

RuleSet read_set(Fields& fields, const v1::RuleSet& text, const PlaceTree* tree, const Rule& rule,
                 bool all, int depth) {
  RuleSet set{.all = all, .rules = {}};
  if (depth >= kDeepestSet) {
    fields.note(tree, text, "rule",
                "stands in a set within a set within a set; two deep is the most");
    return set;
  }
  for (int i = 0; i < text.rule_size(); ++i)
    set.rules.push_back(
        read_rule(fields, text.rule(i), nested(tree, text, "rule", i), &rule, depth + 1));
  return set;
}

}  // namespace

void read_form(ProcedureFields& fields, const v1::Rule& text, const PlaceTree* tree, Rule& rule,
               int depth) {
  const auto take = [&](const auto& form, const char* name) {
    rule.form = read(fields, form, nested(tree, text, name));
  };
  switch (text.form_case()) {
    case v1::Rule::kComesFirst:
      return take(text.comes_first(), "comes_first");
    case v1::Rule::kFollowsWithin:
      return take(text.follows_within(), "follows_within");
    case v1::Rule::kStaysUntil:
      return take(text.stays_until(), "stays_until");
    case v1::Rule::kWaitBetween:
      return take(text.wait_between(), "wait_between");
    case v1::Rule::kLimitInPhase:
      return take(text.limit_in_phase(), "limit_in_phase");
    case v1::Rule::kTotalInPhase:
      return take(text.total_in_phase(), "total_in_phase");
    case v1::Rule::kNeverTogether:
      return take(text.never_together(), "never_together");
    case v1::Rule::kEnoughStrength:
      return take(text.enough_strength(), "enough_strength");
    case v1::Rule::kRecheckEvery:
      return take(text.recheck_every(), "recheck_every");
    case v1::Rule::kEvidencePresent:
      return take(text.evidence_present(), "evidence_present");
    case v1::Rule::kCountLimit:
      return take(text.count_limit(), "count_limit");
    case v1::Rule::kSourcesAgree:
      return take(text.sources_agree(), "sources_agree");
    case v1::Rule::kAllOf:
      if (text.all_of().rule().empty())
        fields.note(tree, text, "all_of", "is empty; a set needs at least one rule");
      rule.form = read_set(fields, text.all_of(), nested(tree, text, "all_of"), rule, true, depth);
      return;
    case v1::Rule::kAnyOf:
      if (text.any_of().rule().empty())
        fields.note(tree, text, "any_of", "is empty; a set needs at least one rule");
      rule.form = read_set(fields, text.any_of(), nested(tree, text, "any_of"), rule, false, depth);
      return;
    case v1::Rule::FORM_NOT_SET:
      return fields.note(tree, text, "id", "has no form; add one, as comes_first { ... }");
  }
}

}  // namespace fairlead::judge
