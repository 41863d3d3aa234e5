// The second pass over a procedure file: every name, quantity and limit is checked and turned
// into whole numbers; all problems are collected, each with its place.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "daemon/base/crypto.h"
#include "daemon/base/nearest.h"
#include "daemon/judge/rulebook.h"
#include "daemon/judge/text_file.h"
#include "daemon/judge/vocabulary.h"

namespace fairlead::judge {
namespace {

namespace pb = google::protobuf;
using Tree = pb::TextFormat::ParseInfoTree;

const Tree* nested(const Tree* tree, const pb::Message& owner, const std::string& field,
                   int index = -1) {
  const pb::FieldDescriptor* descriptor = owner.GetDescriptor()->FindFieldByName(field);
  return tree == nullptr
             ? nullptr
             : tree->GetTreeForNested(descriptor, descriptor->is_repeated() ? index : -1);
}

// Of what a limit below 0 would be an oversight; volts, angles, temperatures have a sign.
bool never_negative(Dimension dimension) {
  return dimension == Dimension::kSpeed || dimension == Dimension::kLength ||
         dimension == Dimension::kForce || dimension == Dimension::kMass ||
         dimension == Dimension::kTime || dimension == Dimension::kCount;
}

class Compiler {
 public:
  Compiler(const v1::Procedure& text, const TextFile& places, Procedure& out)
      : text_(text), tree_(&places.places), problems_(places), out_(out) {}

  std::vector<std::string> run() {
    need(tree_, text_, "id", text_.id());
    need(tree_, text_, "version", text_.version());
    for (const v1::Phase& phase : text_.phase()) phase_ids_.push_back(phase.id());
    for (int i = 0; i < text_.phase_size(); ++i) read_phase(i);
    check_steps();
    check_ages();
    for (int i = 0; i < text_.rule_size(); ++i) read_rule(i);
    return problems_.lines();
  }

 private:
  void note(const Tree* tree, const pb::Message& message, const std::string& field,
            const std::string& what, int index = -1) {
    problems_.add(tree, message, field, index, what);
  }
  void need(const Tree* tree, const pb::Message& message, const std::string& field,
            const std::string& value) {
    if (value.empty()) note(tree, message, field, "is missing; add it");
  }
  // An event name that must be there.
  void need_event(const Tree* tree, const pb::Message& message, const std::string& field,
                  const std::string& name) {
    if (name.empty()) return need(tree, message, field, name);
    check_event_at(tree, message, field, name);
  }
  void check_event_at(const Tree* tree, const pb::Message& message, const std::string& field,
                      const std::string& name, int index = -1) {
    if (auto known = check_event(name, phase_ids_); !known)
      note(tree, message, field, known.error().message, index);
  }
  void need_phase(const Tree* tree, const pb::Message& message, const std::string& field,
                  const std::string& id) {
    if (id == "job" || id == "handling" ||
        std::find(phase_ids_.begin(), phase_ids_.end(), id) != phase_ids_.end())
      return;
    std::vector<std::string_view> names(phase_ids_.begin(), phase_ids_.end());
    names.insert(names.end(), {"job", "handling"});
    note(tree, message, field,
         id.empty()
             ? "is missing; name a phase"
             : fmt::format("unknown phase '{}'; the nearest is '{}'", id, nearest(id, names)));
  }
  std::optional<int64_t> quantity(const Tree* tree, const pb::Message& message,
                                  const std::string& field, const std::string& value,
                                  Dimension dimension) {
    if (value.empty()) return std::nullopt;
    const auto read = parse_quantity(value, dimension);
    if (!read) {
      note(tree, message, field, read.error().message);
      return std::nullopt;
    }
    if (read->nearest() < 0)
      note(tree, message, field, fmt::format("'{}' is negative; it must not be", value));
    return read->nearest();
  }

  void read_phase(int index) {
    const v1::Phase& text = text_.phase(index);
    const Tree* tree = nested(tree_, text_, "phase", index);
    need(tree, text, "id", text.id());
    if (!seen_phases_.insert(text.id()).second)
      note(tree, text, "id", fmt::format("phase '{}' stands twice; ids must differ", text.id()));
    if (text.id() == "job" || text.id() == "handling")
      note(tree, text, "id", fmt::format("phase '{}' is built in; choose another id", text.id()));
    need_event(tree, text, "opens", text.opens());
    need_event(tree, text, "closes", text.closes());
    if (text.opens() == text.closes() && !text.opens().empty())
      note(tree, text, "closes", "equals `opens`; the phase could never last");
    Phase phase{text.id(), text.opens(), text.closes(), 0, 0};
    phase.debounce_us =
        quantity(tree, text, "debounce", text.debounce(), Dimension::kTime).value_or(0);
    phase.longest_us =
        quantity(tree, text, "longest", text.longest(), Dimension::kTime).value_or(0);
    out_.phases.push_back(std::move(phase));
  }

  void check_steps() {
    std::set<std::string> cautions, steps;
    for (int i = 0; i < text_.caution_size(); ++i) {
      const Tree* tree = nested(tree_, text_, "caution", i);
      need(tree, text_.caution(i), "id", text_.caution(i).id());
      need(tree, text_.caution(i), "say", text_.caution(i).say());
      if (!cautions.insert(text_.caution(i).id()).second)
        note(tree, text_.caution(i), "id",
             fmt::format("caution '{}' stands twice; ids must differ", text_.caution(i).id()));
    }
    for (int i = 0; i < text_.step_size(); ++i) {
      const v1::Step& step = text_.step(i);
      const Tree* tree = nested(tree_, text_, "step", i);
      need(tree, step, "id", step.id());
      need(tree, step, "say", step.say());
      if (!steps.insert(step.id()).second)
        note(tree, step, "id", fmt::format("step '{}' stands twice; ids must differ", step.id()));
      if (!step.done_by().empty()) check_event_at(tree, step, "done_by", step.done_by());
      for (int k = 0; k < step.caution_size(); ++k) {
        if (cautions.contains(step.caution(k))) continue;
        std::vector<std::string_view> names(cautions.begin(), cautions.end());
        note(tree, step, "caution",
             fmt::format("unknown caution '{}'; the nearest is '{}'", step.caution(k),
                         nearest(step.caution(k), names)),
             k);
      }
    }
  }

  void check_ages() {
    quantity(tree_, text_, "latest_arrival", text_.latest_arrival(), Dimension::kTime);
    for (int i = 0; i < text_.longest_age_size(); ++i) {
      const Tree* tree = nested(tree_, text_, "longest_age", i);
      if (auto known = check_fact(text_.longest_age(i).fact()); !known)
        note(tree, text_.longest_age(i), "fact", known.error().message);
      quantity(tree, text_.longest_age(i), "age", text_.longest_age(i).age(), Dimension::kTime);
    }
    for (int i = 0; i < text_.fastest_change_size(); ++i) {
      const Tree* tree = nested(tree_, text_, "fastest_change", i);
      if (auto known = check_quantity(text_.fastest_change(i).quantity()); !known)
        note(tree, text_.fastest_change(i), "quantity", known.error().message);
    }
  }

  void read_rule(int index) {
    const v1::Rule& text = text_.rule(index);
    const Tree* tree = nested(tree_, text_, "rule", index);
    need(tree, text, "id", text.id());
    if (!seen_rules_.insert(text.id()).second)
      note(tree, text, "id", fmt::format("rule '{}' stands twice; ids must differ", text.id()));
    need(tree, text, "title", text.title());
    if (text.origin().text().empty() || text.origin().standing() == v1::Origin::UNSET) {
      note(tree, text, "origin",
           "is missing; name where the rule comes from (`text`) and its `standing`");
    }
    if (!text.while_phase().empty()) need_phase(tree, text, "while_phase", text.while_phase());
    if (!text.unless().empty()) check_event_at(tree, text, "unless", text.unless());
    Rule rule{.id = text.id(),
              .title = text.title(),
              .origin = text.origin().text(),
              .while_phase = text.while_phase(),
              .unless = text.unless(),
              .warn_at_ppm = {},
              .form = {}};
    rule.warn_at_ppm = quantity(tree, text, "warn_at", text.warn_at(), Dimension::kShare);
    read_form(text, tree, rule);
    out_.rules.push_back(std::move(rule));
  }

  void read_form(const v1::Rule& text, const Tree* tree, Rule& rule) {
    switch (text.form_case()) {
      case v1::Rule::kComesFirst:
        return read(text.comes_first(), nested(tree, text, "comes_first"), rule);
      case v1::Rule::kLimitInPhase:
        return read(text.limit_in_phase(), nested(tree, text, "limit_in_phase"), rule);
      case v1::Rule::kTotalInPhase:
        return read(text.total_in_phase(), nested(tree, text, "total_in_phase"), rule);
      case v1::Rule::kEnoughStrength:
        return read(text.enough_strength(), nested(tree, text, "enough_strength"), rule);
      case v1::Rule::kEvidencePresent:
        return read(text.evidence_present(), nested(tree, text, "evidence_present"), rule);
      case v1::Rule::FORM_NOT_SET:
        return note(tree, text, "id", "has no form; add one, as comes_first { ... }");
      default:
        return note(tree, text, text.GetDescriptor()->FindFieldByNumber(text.form_case())->name(),
                    "this build cannot judge that form; it judges comes_first, limit_in_phase, "
                    "total_in_phase, "
                    "enough_strength and evidence_present");
    }
  }

  void read(const v1::ComesFirst& text, const Tree* tree, Rule& rule) {
    need_event(tree, text, "first", text.first());
    need_event(tree, text, "then", text.then());
    ComesFirst form{text.first(), text.then(), 0, text.ever()};
    form.min_gap_us = quantity(tree, text, "min_gap", text.min_gap(), Dimension::kTime).value_or(0);
    rule.form = form;
  }

  // Exactly one of the bounds; its text as a limit of the quantity's dimension.
  void read_limit(const Tree* tree, const pb::Message& text, Dimension dimension, Bounds& bounds,
                  Limit& limit) {
    int count = 0;
    for (const auto& [field, bound] : {std::pair{"under", Bounds::kUnder},
                                       {"at_most", Bounds::kAtMost},
                                       {"at_least", Bounds::kAtLeast}}) {
      const pb::FieldDescriptor* descriptor = text.GetDescriptor()->FindFieldByName(field);
      if (descriptor == nullptr) continue;
      const std::string value = text.GetReflection()->GetString(text, descriptor);
      if (value.empty()) continue;
      ++count;
      bounds = bound;
      limit = limit_of(tree, text, field, value, dimension);
    }
    if (count != 1)
      note(tree, text, "quantity", "needs exactly one of `under`, `at_most`, `at_least`");
  }

  Limit limit_of(const Tree* tree, const pb::Message& text, const std::string& field,
                 const std::string& value, Dimension dimension) {
    Limit limit{.constant = {},
                .field = "",
                .quantity = "",
                .unit = std::string(display_unit(dimension)),
                .dimension = dimension,
                .text = value};
    const size_t either = value.find(" or ");
    const std::string head = value.substr(0, either);
    std::string constant = either == std::string::npos ? value : value.substr(either + 4);
    if (const auto of_file = file_field_dimension(head)) {
      limit.field = head;
      if (*of_file != dimension)
        note(tree, text, field,
             fmt::format("'{}' is a {}, but a {} is wanted", head, dimension_name(*of_file),
                         dimension_name(dimension)));
      if (either == std::string::npos) return limit;
    } else if (const QuantityInfo* info = find_quantity(head);
               info != nullptr && either == std::string::npos) {
      limit.quantity = head;
      if (info->dimension != dimension)
        note(tree, text, field,
             fmt::format("'{}' is a {}, but a {} is wanted", head, dimension_name(info->dimension),
                         dimension_name(dimension)));
      return limit;
    } else if (!head.empty() && (head[0] < '0' || head[0] > '9') && head[0] != '-') {
      std::vector<std::string_view> names(file_field_names().begin(), file_field_names().end());
      names.insert(names.end(), quantity_names().begin(), quantity_names().end());
      note(tree, text, field,
           fmt::format("'{}' is no quantity text, file field or quantity; the nearest is '{}'",
                       head, nearest(head, names)));
      return limit;
    }
    const auto read = parse_quantity(constant, dimension);
    if (!read) {
      note(tree, text, field, read.error().message);
      return limit;
    }
    if (read->nearest() < 0 && never_negative(dimension))
      note(tree, text, field,
           fmt::format("'{}' is negative; a {} limit must not be", constant,
                       dimension_name(dimension)));
    limit.constant = read->nearest();
    limit.unit = read->unit.empty() ? limit.unit : read->unit;
    return limit;
  }

  const QuantityInfo* need_quantity(const Tree* tree, const pb::Message& text,
                                    const std::string& name) {
    if (auto known = check_quantity(name); !known) {
      note(tree, text, "quantity",
           name.empty() ? "is missing; name a quantity" : known.error().message);
      return nullptr;
    }
    return find_quantity(name);
  }

  void read(const v1::LimitInPhase& text, const Tree* tree, Rule& rule) {
    LimitInPhase form{.phase = text.phase(),
                      .quantity = text.quantity(),
                      .bounds = {},
                      .limit = {},
                      .sustained_us = 0,
                      .longest_gap_us = {}};
    need_phase(tree, text, "phase", text.phase());
    const QuantityInfo* info = need_quantity(tree, text, text.quantity());
    if (info != nullptr && info->total)
      note(tree, text, "quantity",
           fmt::format("'{}' is a total; use total_in_phase", text.quantity()));
    if (info != nullptr) read_limit(tree, text, info->dimension, form.bounds, form.limit);
    form.sustained_us =
        quantity(tree, text, "sustained", text.sustained(), Dimension::kTime).value_or(0);
    form.longest_gap_us = quantity(tree, text, "longest_gap", text.longest_gap(), Dimension::kTime);
    rule.form = form;
  }

  void read(const v1::TotalInPhase& text, const Tree* tree, Rule& rule) {
    TotalInPhase form{.phase = text.phase(),
                      .quantity = text.quantity(),
                      .bounds = {},
                      .limit = {},
                      .per = v1::Per::HANDLING,
                      .longest_gap_us = {}};
    need_phase(tree, text, "phase", text.phase());
    const QuantityInfo* info = need_quantity(tree, text, text.quantity());
    if (info != nullptr && !info->total)
      note(tree, text, "quantity",
           fmt::format("'{}' is not a total; use limit_in_phase", text.quantity()));
    if (info != nullptr) read_limit(tree, text, info->dimension, form.bounds, form.limit);
    if (text.per() != v1::Per::UNSET) form.per = text.per();
    form.longest_gap_us = quantity(tree, text, "longest_gap", text.longest_gap(), Dimension::kTime);
    rule.form = form;
  }

  void read(const v1::EnoughStrength& text, const Tree* tree, Rule& rule) {
    EnoughStrength form{.phase = text.phase(),
                        .tiedowns = text.of() == "tiedowns",
                        .times_mass_ppm = 0,
                        .least_count = text.least_count()};
    need_phase(tree, text, "phase", text.phase());
    if (text.of() != "tiedowns" && text.of() != "rigging")
      note(tree, text, "of", fmt::format("'{}' is neither 'tiedowns' nor 'rigging'", text.of()));
    const auto share = quantity(tree, text, "times_mass", text.times_mass(), Dimension::kShare);
    if (!share)
      note(tree, text, "times_mass", "is missing; give the share of the mass, as \"0.5\"");
    form.times_mass_ppm = share.value_or(0);
    rule.form = form;
  }

  void read(const v1::EvidencePresent& text, const Tree* tree, Rule& rule) {
    EvidencePresent form{.items = {text.item().begin(), text.item().end()},
                         .at_least = text.at_least(),
                         .before = text.before(),
                         .after = text.after(),
                         .window_us = {}};
    if (text.item_size() == 0) note(tree, text, "item", "is missing; name at least one event");
    for (int i = 0; i < text.item_size(); ++i) check_event_at(tree, text, "item", text.item(i), i);
    if (text.at_least() == 0)
      note(tree, text, "at_least", "is missing; give a number of items from 1");
    if (text.before().empty() == text.after().empty())
      note(tree, text, "before", "needs exactly one of `before` and `after`");
    if (!text.before().empty()) check_event_at(tree, text, "before", text.before());
    if (!text.after().empty()) check_event_at(tree, text, "after", text.after());
    if (!text.radius().empty())
      note(tree, text, "radius", "this build cannot judge distances between items; leave it out");
    form.window_us = quantity(tree, text, "window", text.window(), Dimension::kTime);
    rule.form = form;
  }

  const v1::Procedure& text_;
  const Tree* tree_;
  Problems problems_;
  Procedure& out_;
  std::vector<std::string> phase_ids_;
  std::set<std::string> seen_phases_, seen_rules_;
};

}  // namespace

const Phase* Procedure::phase(const std::string& phase_id) const {
  for (const Phase& one : phases) {
    if (one.id == phase_id) return &one;
  }
  return nullptr;
}

Result<Procedure> compile_procedure(const SourceFile& file) {
  Procedure procedure;
  TextFile places;
  if (auto parsed = parse_text_file(file, procedure.text, places); !parsed)
    return std::unexpected(parsed.error());
  procedure.id = procedure.text.id();
  procedure.version = procedure.text.version();
  procedure.title = procedure.text.title();
  procedure.sha256 = hex_of(sha256(file.bytes));
  const std::vector<std::string> problems = Compiler(procedure.text, places, procedure).run();
  if (problems.empty()) return procedure;
  return fail(Code::kBadInput, fmt::format("{}", fmt::join(problems, "\n")));
}

Result<Rulebook> Rulebook::load(const std::vector<SourceFile>& procedures,
                                const std::vector<SourceFile>& register_files) {
  auto content = std::make_shared<Content>();
  std::vector<std::string> problems;
  for (const SourceFile& file : procedures) {
    auto compiled = compile_procedure(file);
    if (compiled)
      content->procedures.push_back(std::move(*compiled));
    else
      problems.push_back(compiled.error().message);
  }
  auto book = RegisterBook::compile(register_files);
  if (book)
    content->book = std::move(*book);
  else
    problems.push_back(book.error().message);
  if (!problems.empty()) return fail(Code::kBadInput, fmt::format("{}", fmt::join(problems, "\n")));
  // One file is named by its own hash; several by the hash of their hashes, in sorted order.
  std::vector<std::string> hashes;
  for (const SourceFile& file : register_files) hashes.push_back(hex_of(sha256(file.bytes)));
  std::sort(hashes.begin(), hashes.end());
  content->register_sha256 = hashes.empty() ? ""
                             : hashes.size() == 1
                                 ? hashes[0]
                                 : hex_of(sha256(fmt::format("{}", fmt::join(hashes, "\n"))));
  Rulebook rulebook;
  rulebook.content_ = std::move(content);
  return rulebook;
}

}  // namespace fairlead::judge
