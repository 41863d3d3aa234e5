#include "daemon/desk/recorded_findings.h"

#include "daemon/base/time_text.h"
#include "daemon/record/json_tree.h"

namespace fairlead::desk {
namespace {

using judge::Finding;

template <typename Word, size_t N>
Word word_of(const std::string& text, const Word (&all)[N]) {
  for (const Word one : all) {
    if (text == judge::word(one)) return one;
  }
  return all[0];
}

// A number as it was printed: reading it as a number would print it otherwise.
judge::Bound printed(const std::string& line, const std::string& key) {
  const size_t at = line.find("\"" + key + "\":");
  if (at == std::string::npos) return std::nullopt;
  const size_t from = at + key.size() + 3;
  const std::string text = line.substr(from, line.find_first_of(",}", from) - from);
  return text == "null" ? std::nullopt : std::optional(text);
}

void put(const std::string& line, const record::JsonTree& tree, Finding& f) {
  using judge::Applies, judge::Verdict, judge::Reason, judge::Basis;
  const auto text = [&](const char* key) {
    const auto found = tree.find(key);
    return found != tree.end() && found->is_string() ? found->get<std::string>() : std::string();
  };
  const auto whole = [&](const char* key) {
    const auto found = tree.find(key);
    return found != tree.end() && found->is_number_unsigned() ? found->get<uint32_t>() : 0;
  };
  f.applies = word_of(text("applies"), {Applies::kUnknown, Applies::kYes, Applies::kNo});
  f.verdict = word_of(text("verdict"),
                      {Verdict::kNone, Verdict::kMet, Verdict::kDeviated, Verdict::kUnproven});
  f.reason = word_of(text("reason"),
                     {Reason::kNone, Reason::kNoData, Reason::kTooClose, Reason::kClockDoubt,
                      Reason::kSourcesDisagree, Reason::kNotYet, Reason::kCutShort});
  f.basis =
      word_of(text("basis"), {Basis::kNone, Basis::kMeasured, Basis::kPictured, Basis::kSaid});
  f.margin_lo = printed(line, "marginLo");
  f.margin_best = printed(line, "marginBest");
  f.margin_hi = printed(line, "marginHi");
  f.unit = text("unit");
  const auto at_us = parse_time_us(text("at"));
  f.at_us = at_us ? std::optional(*at_us) : std::nullopt;
  f.settled = tree.value("settled", false);
  f.revision = whole("revision");
  f.meaning = whole("meaning");
  f.sentence = text("sentence");
  f.inputs_sha256 = text("inputsSha256");
  f.value_lo = f.value_best = f.value_hi = std::nullopt;
  f.evidence.clear();
  const auto evidence = tree.find("evidence");
  if (evidence == tree.end() || !evidence->is_array()) return;
  for (const auto& one : *evidence) {
    if (!one.is_object()) continue;
    f.evidence.push_back({one.value("source", ""), one.value("seq", 0U), one.value("role", "")});
  }
}

}  // namespace

Status use_recorded(const std::vector<std::string>& lines, std::vector<Finding>& findings) {
  for (const std::string& line : lines) {
    const auto tree = record::json_tree(line);
    if (!tree || !tree->is_object())
      return fail(Code::kCorrupt, "a finding on record cannot be read: " + line);
    for (Finding& finding : findings) {
      const auto rule = tree->find("rule");
      const auto procedure = tree->find("procedureSha256");
      if (rule != tree->end() && *rule == finding.rule && procedure != tree->end() &&
          *procedure == finding.procedure_sha256) {
        put(line, *tree, finding);
      }
    }
  }
  return {};
}

}  // namespace fairlead::desk
