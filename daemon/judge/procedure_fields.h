// Checks of single fields of a procedure file: names, quantities, limits. Every problem is noted
// with the place of its field; nothing stops at the first.
//
// Threads: belongs to the one compilation that made it.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/judge/rulebook.h"
#include "daemon/judge/text_file.h"
#include "daemon/judge/vocabulary.h"

namespace fairlead::judge {

using PlaceTree = google::protobuf::TextFormat::ParseInfoTree;

/// The place of a message within its owner; nullptr where the tree knows none.
[[nodiscard]] const PlaceTree* nested(const PlaceTree* tree, const google::protobuf::Message& owner,
                                      const std::string& field, int index = -1);

class ProcedureFields {
 public:
  using Message = google::protobuf::Message;

  ProcedureFields(const v1::Procedure& text, const TextFile& places);

  void note(const PlaceTree* tree, const Message& message, const std::string& field,
            const std::string& what, int index = -1);
  /// The same of what judges, but the same of every job (procedure_sense.h).
  void note_senseless(const PlaceTree* tree, const Message& message, const std::string& field,
                      const std::string& what, int index = -1);
  void need(const PlaceTree* tree, const Message& message, const std::string& field,
            const std::string& value);
  /// An event name, which must be there; or may be missing (check_event_at).
  void need_event(const PlaceTree* tree, const Message& message, const std::string& field,
                  const std::string& name);
  void check_event_at(const PlaceTree* tree, const Message& message, const std::string& field,
                      const std::string& name, int index = -1);
  void need_fact(const PlaceTree* tree, const Message& message, const std::string& field,
                 const std::string& name);
  void need_phase(const PlaceTree* tree, const Message& message, const std::string& field,
                  const std::string& id);
  /// A quantity text that must not be negative; nullopt where it is empty or wrong.
  std::optional<int64_t> quantity(const PlaceTree* tree, const Message& message,
                                  const std::string& field, const std::string& value,
                                  Dimension dimension);
  /// The same, and it must be there.
  int64_t need_quantity_text(const PlaceTree* tree, const Message& message,
                             const std::string& field, const std::string& value,
                             Dimension dimension);
  /// The named quantity's kind; nullptr, with a note, for an unknown name.
  const QuantityInfo* need_quantity(const PlaceTree* tree, const Message& text,
                                    const std::string& name, const std::string& field);
  /// A limit: a quantity text, a file's field with a fallback, or a quantity's name.
  Limit limit_of(const PlaceTree* tree, const Message& text, const std::string& field,
                 const std::string& value, Dimension dimension, Bounds bounds);
  std::optional<Limit> limit_if_any(const PlaceTree* tree, const Message& text,
                                    const std::string& field, const std::string& value,
                                    Dimension dimension);
  /// Exactly one of `under`, `at_most`, `at_least` (those the message has).
  void read_limit(const PlaceTree* tree, const Message& text, Dimension dimension, Bounds& bounds,
                  Limit& limit);
  /// Of these fields one must be there, and no more.
  void exactly_one(const PlaceTree* tree, const Message& text,
                   const std::vector<std::string>& fields);

  [[nodiscard]] std::vector<std::string> problems() const { return problems_.lines(); }
  [[nodiscard]] std::vector<std::string> senseless() const { return senseless_.lines(); }

 private:
  std::string nearest_declared(const std::string& name) const;

  Problems problems_, senseless_;
  std::vector<std::string> phase_ids_, step_ids_, caution_ids_, rule_ids_;
};

/// Reads the rule's form (procedure_forms.cpp). `depth` counts the sets it stands in.
void read_form(ProcedureFields& fields, const v1::Rule& text, const PlaceTree* tree, Rule& rule,
               int depth);
/// Reads a rule with its head; rules of a set inherit origin, while_phase and unless.
[[nodiscard]] Rule read_rule(ProcedureFields& fields, const v1::Rule& text, const PlaceTree* tree,
                             const Rule* set, int depth);

}  // namespace fairlead::judge
