#include "daemon/judge/procedure_fields.h"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/base/nearest.h"
#include "daemon/judge/procedure_sense.h"

namespace fairlead::judge {
namespace {

namespace pb = google::protobuf;

// Of what a limit below 0 would be an oversight; volts, angles, temperatures have a sign.
bool never_negative(Dimension dimension) {
  return dimension == Dimension::kSpeed || dimension == Dimension::kLength ||
         dimension == Dimension::kForce || dimension == Dimension::kMass ||
         dimension == Dimension::kTime || dimension == Dimension::kCount;
}

void add_rule_ids(const pb::RepeatedPtrField<v1::Rule>& rules, std::vector<std::string>& ids) {
  for (const v1::Rule& rule : rules) {
    ids.push_back(rule.id());
    add_rule_ids(rule.all_of().rule(), ids);
    add_rule_ids(rule.any_of().rule(), ids);
  }
}

}  // namespace

const PlaceTree* nested(const PlaceTree* tree, const pb::Message& owner, const std::string& field,
                        int index) {
  const pb::FieldDescriptor* descriptor = owner.GetDescriptor()->FindFieldByName(field);
  return tree == nullptr
             ? nullptr
             : tree->GetTreeForNested(descriptor, descriptor->is_repeated() ? index : -1);
}

ProcedureFields::ProcedureFields(const v1::Procedure& text, const TextFile& places)
    : problems_(places), senseless_(places) {
  for (const v1::Phase& phase : text.phase()) phase_ids_.push_back(phase.id());
  for (const v1::Step& step : text.step()) step_ids_.push_back(step.id());
  for (const v1::CautionText& caution : text.caution()) caution_ids_.push_back(caution.id());
  add_rule_ids(text.rule(), rule_ids_);
}

void ProcedureFields::note(const PlaceTree* tree, const Message& message, const std::string& field,
                           const std::string& what, int index) {
  problems_.add(tree, message, field, index, what);
}

void ProcedureFields::note_senseless(const PlaceTree* tree, const Message& message,
                                     const std::string& field, const std::string& what, int index) {
  senseless_.add(tree, message, field, index, what);
}

void ProcedureFields::need(const PlaceTree* tree, const Message& message, const std::string& field,
                           const std::string& value) {
  if (value.empty()) note(tree, message, field, "is missing; add it");
}

void ProcedureFields::need_event(const PlaceTree* tree, const Message& message,
                                 const std::string& field, const std::string& name) {
  if (name.empty()) return note(tree, message, field, "is missing; name an event");
  check_event_at(tree, message, field, name);
}

// An event that names a step, caution or rule no file declares could never come; "" if it is fine.
std::string ProcedureFields::nearest_declared(const std::string& name) const {
  const auto check = [&](std::string_view family, const std::vector<std::string>& ids,
                         std::string_view what) -> std::string {
    if (!name.starts_with(family)) return "";
    const std::string id = name.substr(family.size());
    if (std::find(ids.begin(), ids.end(), id) != ids.end()) return "";
    const std::vector<std::string_view> words(ids.begin(), ids.end());
    if (ids.empty())
      return fmt::format("event '{}' names the unknown {} '{}'; declare it", name, what, id);
    const std::string hint = suggestion(id, words);
    return fmt::format("event '{}' names the unknown {} '{}'; {}", name, what, id,
                       hint.empty() ? "declare it" : hint);
  };
  for (const std::string& found :
       {check("step.done:", step_ids_, "step"), check("caution.read:", caution_ids_, "caution"),
        check("warning.shown:", rule_ids_, "rule"),
        check("warning.acknowledged:", rule_ids_, "rule")}) {
    if (!found.empty()) return found;
  }
  return "";
}

void ProcedureFields::check_event_at(const PlaceTree* tree, const Message& message,
                                     const std::string& field, const std::string& name, int index) {
  if (auto known = check_event(name, phase_ids_); !known)
    note(tree, message, field, known.error().message, index);
  else if (const std::string undeclared = nearest_declared(name); !undeclared.empty())
    note(tree, message, field, undeclared, index);
  else if (auto comes = check_member(name); !comes)
    note_senseless(tree, message, field, comes.error().message, index);
}

void ProcedureFields::need_fact(const PlaceTree* tree, const Message& message,
                                const std::string& field, const std::string& name) {
  if (name.empty()) return note(tree, message, field, "is missing; name a fact");
  if (name.starts_with("phase:")) return need_phase(tree, message, field, name.substr(6));
  if (auto known = check_fact(name); !known) note(tree, message, field, known.error().message);
}

void ProcedureFields::need_phase(const PlaceTree* tree, const Message& message,
                                 const std::string& field, const std::string& id) {
  if (id == "job" || id == "handling" ||
      std::find(phase_ids_.begin(), phase_ids_.end(), id) != phase_ids_.end())
    return;
  std::vector<std::string_view> names(phase_ids_.begin(), phase_ids_.end());
  names.insert(names.end(), {"job", "handling"});
  const std::string hint = suggestion(id, names);
  note(tree, message, field,
       id.empty() ? "is missing; name a phase"
                  : fmt::format("unknown phase '{}'; {}", id,
                                hint.empty() ? "declare it with phase { ... }" : hint));
}

std::optional<int64_t> ProcedureFields::quantity(const PlaceTree* tree, const Message& message,
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

int64_t ProcedureFields::need_quantity_text(const PlaceTree* tree, const Message& message,
                                            const std::string& field, const std::string& value,
                                            Dimension dimension) {
  if (value.empty())
    note(tree, message, field,
         fmt::format("is missing; give {}, as \"10 {}\"", a_dimension(dimension),
                     display_unit(dimension)));
  return quantity(tree, message, field, value, dimension).value_or(0);
}

const QuantityInfo* ProcedureFields::need_quantity(const PlaceTree* tree, const Message& text,
                                                   const std::string& name,
                                                   const std::string& field) {
  if (auto known = check_quantity(name); !known) {
    note(tree, text, field, name.empty() ? "is missing; name a quantity" : known.error().message);
    return nullptr;
  }
  return find_quantity(name);
}

Limit ProcedureFields::limit_of(const PlaceTree* tree, const Message& text,
                                const std::string& field, const std::string& value,
                                Dimension dimension, Bounds bounds) {
  Limit limit{.constant = {},
              .up = bounds == Bounds::kUnder,
              .field = "",
              .quantity = "",
              .unit = std::string(display_unit(dimension)),
              .dimension = dimension,
              .text = value};
  const auto wrong_kind = [&](const std::string& name, Dimension found) {
    if (found == dimension) return;
    note(tree, text, field,
         fmt::format("'{}' is {}, but {} is wanted", name, a_dimension(found),
                     a_dimension(dimension)));
  };
  const size_t either = value.find(" or ");
  const std::string head = value.substr(0, either);
  const std::string constant = either == std::string::npos ? value : value.substr(either + 4);
  if (const auto of_file = file_field_dimension(head)) {
    limit.field = head;
    wrong_kind(head, *of_file);
    if (either == std::string::npos) return limit;
  } else if (const QuantityInfo* info = find_quantity(head);
             info != nullptr && either == std::string::npos) {
    limit.quantity = head;
    wrong_kind(head, info->dimension);
    return limit;
  } else if (!head.empty() && (head[0] < '0' || head[0] > '9') && head[0] != '-') {
    std::vector<std::string_view> names(file_field_names().begin(), file_field_names().end());
    names.insert(names.end(), quantity_names().begin(), quantity_names().end());
    const std::string hint = suggestion(head, names);
    note(tree, text, field,
         fmt::format("'{}' is no quantity text, file field or quantity; {}", head,
                     hint.empty() ? "`fairlead check-procedure --names` lists them" : hint));
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
  limit.constant = limit.up ? read->ceil() : read->nearest();
  limit.unit = read->unit.empty() ? limit.unit : read->unit;
  return limit;
}

std::optional<Limit> ProcedureFields::limit_if_any(const PlaceTree* tree, const Message& text,
                                                   const std::string& field,
                                                   const std::string& value, Dimension dimension) {
  if (value.empty()) return std::nullopt;
  // None of the fields that a form may leave out is an `under`.
  return limit_of(tree, text, field, value, dimension, Bounds::kAtMost);
}

void ProcedureFields::exactly_one(const PlaceTree* tree, const Message& text,
                                  const std::vector<std::string>& fields) {
  std::vector<std::string> given;
  for (const std::string& field : fields) {
    const pb::FieldDescriptor* descriptor = text.GetDescriptor()->FindFieldByName(field);
    const bool there = descriptor->cpp_type() == pb::FieldDescriptor::CPPTYPE_STRING
                           ? !text.GetReflection()->GetString(text, descriptor).empty()
                           : text.GetReflection()->HasField(text, descriptor);
    if (there) given.push_back(field);
  }
  if (given.empty())
    note(tree, text, fields[0],
         fmt::format("is missing; give one of `{}`", fmt::join(fields, "`, `")));
  for (size_t i = 1; i < given.size(); ++i)
    note(tree, text, given[i], fmt::format("stands beside `{}`; keep one of them", given[0]));
}

void ProcedureFields::read_limit(const PlaceTree* tree, const Message& text, Dimension dimension,
                                 Bounds& bounds, Limit& limit) {
  std::vector<std::string> fields;
  for (const auto& [field, bound] : {std::pair{"under", Bounds::kUnder},
                                     {"at_most", Bounds::kAtMost},
                                     {"at_least", Bounds::kAtLeast}}) {
    const pb::FieldDescriptor* descriptor = text.GetDescriptor()->FindFieldByName(field);
    if (descriptor == nullptr) continue;
    fields.emplace_back(field);
    const std::string value = text.GetReflection()->GetString(text, descriptor);
    if (value.empty()) continue;
    bounds = bound;
    limit = limit_of(tree, text, field, value, dimension, bound);
  }
  exactly_one(tree, text, fields);
}

}  // namespace fairlead::judge
