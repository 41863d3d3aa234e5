// The second pass over a procedure file: every name, quantity and limit is checked and turned
// into whole numbers; all problems are collected, each with its place.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "daemon/base/crypto.h"
#include "daemon/base/nearest.h"
#include "daemon/judge/procedure_fields.h"
#include "daemon/judge/procedure_sense.h"

namespace fairlead::judge {
namespace {

using Tree = PlaceTree;

constexpr int64_t kWhole = 1'000'000;  // 100 % in millionths.

class Compiler {
 public:
  Compiler(const v1::Procedure& text, const TextFile& places, Procedure& out)
      : text_(text), tree_(&places.places), fields_(text, places), out_(out) {}

  std::vector<std::string> run() {
    fields_.need(tree_, text_, "id", text_.id());
    fields_.need(tree_, text_, "version", text_.version());
    for (int i = 0; i < text_.phase_size(); ++i) read_phase(i);
    check_reachable();
    check_steps();
    read_ages();
    read_rates();
    std::set<std::string> seen;
    check_unique(text_.rule(), tree_, text_, seen);
    for (int i = 0; i < text_.rule_size(); ++i)
      out_.rules.push_back(
          read_rule(fields_, text_.rule(i), nested(tree_, text_, "rule", i), nullptr, 0));
    return fields_.problems();
  }
  [[nodiscard]] std::vector<std::string> senseless() const { return fields_.senseless(); }

 private:
  void read_phase(int index) {
    const v1::Phase& text = text_.phase(index);
    const Tree* tree = nested(tree_, text_, "phase", index);
    fields_.need(tree, text, "id", text.id());
    if (!seen_phases_.insert(text.id()).second)
      fields_.note(tree, text, "id",
                   fmt::format("phase '{}' stands twice; ids must differ", text.id()));
    if (text.id() == "job" || text.id() == "handling")
      fields_.note(tree, text, "id",
                   fmt::format("phase '{}' is built in; choose another id", text.id()));
    fields_.need_event(tree, text, "opens", text.opens());
    fields_.need_event(tree, text, "closes", text.closes());
    if (text.opens() == text.closes() && !text.opens().empty())
      fields_.note(tree, text, "closes", "equals `opens`; the phase could never last");
    Phase phase{text.id(), text.opens(), text.closes(), 0, 0};
    phase.debounce_us =
        fields_.quantity(tree, text, "debounce", text.debounce(), Dimension::kTime).value_or(0);
    phase.longest_us =
        fields_.quantity(tree, text, "longest", text.longest(), Dimension::kTime).value_or(0);
    out_.phases.push_back(std::move(phase));
  }

  void check_steps() {
    std::set<std::string> cautions, steps;
    for (int i = 0; i < text_.caution_size(); ++i) {
      const Tree* tree = nested(tree_, text_, "caution", i);
      fields_.need(tree, text_.caution(i), "id", text_.caution(i).id());
      fields_.need(tree, text_.caution(i), "say", text_.caution(i).say());
      if (!cautions.insert(text_.caution(i).id()).second)
        fields_.note(
            tree, text_.caution(i), "id",
            fmt::format("caution '{}' stands twice; ids must differ", text_.caution(i).id()));
    }
    for (int i = 0; i < text_.step_size(); ++i) {
      const v1::Step& step = text_.step(i);
      const Tree* tree = nested(tree_, text_, "step", i);
      fields_.need(tree, step, "id", step.id());
      fields_.need(tree, step, "say", step.say());
      if (!steps.insert(step.id()).second)
        fields_.note(tree, step, "id",
                     fmt::format("step '{}' stands twice; ids must differ", step.id()));
      if (!step.done_by().empty()) fields_.check_event_at(tree, step, "done_by", step.done_by());
      for (int k = 0; k < step.caution_size(); ++k) {
        if (cautions.contains(step.caution(k))) continue;
        std::vector<std::string_view> names(cautions.begin(), cautions.end());
        const std::string hint = suggestion(step.caution(k), names);
        fields_.note(tree, step, "caution",
                     fmt::format("unknown caution '{}'; {}", step.caution(k),
                                 hint.empty() ? "declare it" : hint),
                     k);
      }
    }
  }

  // A phase that only other phases' edges open, none of which anything else opens, never opens.
  void check_reachable() {
    std::set<std::string> reachable{"job", "handling"};
    for (bool more = true; more;) {
      more = false;
      for (const v1::Phase& phase : text_.phase()) {
        const auto edge = fact_event(phase.opens());
        const bool by_phase = edge && edge->fact.starts_with("phase:");
        if (by_phase && !reachable.contains(edge->fact.substr(6))) continue;
        more = reachable.insert(phase.id()).second || more;
      }
    }
    for (int i = 0; i < text_.phase_size(); ++i) {
      if (reachable.contains(text_.phase(i).id())) continue;
      fields_.note(nested(tree_, text_, "phase", i), text_.phase(i), "opens",
                   "the phase can never open, as it waits for a phase that waits for it; open one "
                   "of them by another event");
    }
  }

  void read_ages() {
    fields_.quantity(tree_, text_, "latest_arrival", text_.latest_arrival(), Dimension::kTime);
    for (int i = 0; i < text_.longest_age_size(); ++i) {
      const v1::LongestAge& age = text_.longest_age(i);
      const Tree* tree = nested(tree_, text_, "longest_age", i);
      if (age.fact().empty())
        fields_.note(tree, age, "fact", "is missing; name a fact");
      else if (auto known = check_fact(age.fact()); !known)
        fields_.note(tree, age, "fact", known.error().message);
      else if (is_derived(age.fact()))
        fields_.note(
            tree, age, "fact",
            fmt::format("'{}' is derived from other facts; give the age of those", age.fact()));
      else if (out_.longest_age_us.contains(age.fact()))
        fields_.note(tree, age, "fact", fmt::format("'{}' stands twice; keep one", age.fact()));
      const int64_t us = fields_.need_quantity_text(tree, age, "age", age.age(), Dimension::kTime);
      if (us > 0) out_.longest_age_us[age.fact()] = us;
    }
  }

  // How fast a hole can hide a total growing.
  void read_rates() {
    for (int i = 0; i < text_.fastest_change_size(); ++i) {
      const v1::FastestChange& change = text_.fastest_change(i);
      const Tree* tree = nested(tree_, text_, "fastest_change", i);
      const QuantityInfo* info = fields_.need_quantity(tree, change, change.quantity(), "quantity");
      if (info != nullptr && !info->total)
        fields_.note(tree, change, "quantity",
                     fmt::format("'{}' is no total, and only totals grow in a hole; name "
                                 "vehicle.rolled or truck.driven",
                                 change.quantity()));
      const int64_t rate =
          fields_.need_quantity_text(tree, change, "rate", change.rate(), Dimension::kSpeed);
      if (rate > 0) out_.fastest_change_mm_s[change.quantity()] = rate;
    }
  }

  void check_unique(const google::protobuf::RepeatedPtrField<v1::Rule>& rules, const Tree* tree,
                    const google::protobuf::Message& owner, std::set<std::string>& seen) {
    for (int i = 0; i < rules.size(); ++i) {
      const v1::Rule& rule = rules.Get(i);
      const Tree* place = nested(tree, owner, "rule", i);
      if (!seen.insert(rule.id()).second)
        fields_.note(place, rule, "id",
                     fmt::format("rule '{}' stands twice; ids must differ", rule.id()));
      if (rule.has_all_of())
        check_unique(rule.all_of().rule(), nested(place, rule, "all_of"), rule.all_of(), seen);
      if (rule.has_any_of())
        check_unique(rule.any_of().rule(), nested(place, rule, "any_of"), rule.any_of(), seen);
    }
  }

  const v1::Procedure& text_;
  const Tree* tree_;
  ProcedureFields fields_;
  Procedure& out_;
  std::set<std::string> seen_phases_;
};

// What a rule of a set does not say for itself it has from the set.
std::string inherited(ProcedureFields& fields, const v1::Rule& text, const Tree* tree,
                      const char* field, const std::string& own, const std::string& of_set) {
  if (!own.empty() && !of_set.empty())
    fields.note(tree, text, field, "stands in the set too; keep one of the two");
  return own.empty() ? of_set : own;
}

}  // namespace

Rule read_rule(ProcedureFields& fields, const v1::Rule& text, const Tree* tree, const Rule* set,
               int depth) {
  fields.need(tree, text, "id", text.id());
  if (set == nullptr) {
    fields.need(tree, text, "title", text.title());
    if (text.origin().text().empty() || text.origin().standing() == v1::Origin::UNSET)
      fields.note(tree, text, "origin",
                  "is missing; name where the rule comes from (`text`) and its `standing`");
  } else {
    if (!text.warn_at().empty())
      fields.note(tree, text, "warn_at", "stands in a set; give it to the set");
    if (text.has_origin())
      fields.note_senseless(tree, text, "origin", "stands in a set; give it to the set");
  }
  if (!text.while_phase().empty()) fields.need_phase(tree, text, "while_phase", text.while_phase());
  if (!text.unless().empty()) fields.check_event_at(tree, text, "unless", text.unless());
  Rule rule{.id = text.id(),
            .title = text.title(),
            .origin = text.origin().text(),
            .while_phase = text.while_phase(),
            .unless = text.unless(),
            .warn_at_ppm = {},
            .form = {}};
  if (set != nullptr) {
    if (rule.title.empty()) rule.title = set->title;
    if (rule.origin.empty()) rule.origin = set->origin;
    rule.while_phase =
        inherited(fields, text, tree, "while_phase", text.while_phase(), set->while_phase);
    rule.unless = inherited(fields, text, tree, "unless", text.unless(), set->unless);
  }
  rule.warn_at_ppm = fields.quantity(tree, text, "warn_at", text.warn_at(), Dimension::kShare);
  if (rule.warn_at_ppm && (*rule.warn_at_ppm == 0 || *rule.warn_at_ppm > kWhole))
    fields.note_senseless(
        tree, text, "warn_at",
        fmt::format("'{}' is no part of the limit; write a share up to 100 %, as \"80 %\"",
                    text.warn_at()));
  read_form(fields, text, tree, rule, depth);
  return rule;
}

const Phase* Procedure::phase(const std::string& phase_id) const {
  for (const Phase& one : phases) {
    if (one.id == phase_id) return &one;
  }
  return nullptr;
}

namespace {

Result<Procedure> compile(const SourceFile& file, std::vector<std::string>& senseless) {
  Procedure procedure;
  TextFile places;
  if (auto parsed = parse_text_file(file, procedure.text, places); !parsed)
    return std::unexpected(parsed.error());
  procedure.id = procedure.text.id();
  procedure.version = procedure.text.version();
  procedure.title = procedure.text.title();
  procedure.sha256 = hex_of(sha256(file.bytes));
  Compiler compiler(procedure.text, places, procedure);
  const std::vector<std::string> problems = compiler.run();
  senseless = compiler.senseless();
  if (problems.empty()) return procedure;
  return fail(Code::kBadInput, fmt::format("{}", fmt::join(problems, "\n")));
}

}  // namespace

Result<Procedure> compile_procedure(const SourceFile& file) {
  std::vector<std::string> senseless;
  return compile(file, senseless);
}

std::vector<std::string> senseless_rules(const SourceFile& file) {
  std::vector<std::string> senseless;
  (void)compile(file, senseless);
  return senseless;
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
