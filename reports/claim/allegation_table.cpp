#include "reports/claim/allegation_table.h"

#include <fmt/format.h>
#include <google/protobuf/io/tokenizer.h>
#include <google/protobuf/text_format.h>

#include <algorithm>
#include <array>
#include <set>

#include "daemon/base/crypto.h"
#include "reports/claim/readings.h"
#include "reports/templates/template.h"

namespace fairlead::reports {
namespace {

class FirstError : public google::protobuf::io::ErrorCollector {
 public:
  void AddError(int line, google::protobuf::io::ColumnNumber column,
                const std::string& message) override {
    if (text_.empty()) text_ = fmt::format("{}:{}: {}", line + 1, column + 1, message);
  }
  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  std::string text_;
};

bool is_reading(std::string_view id) {
  const auto& all = reading_ids();
  return std::find(all.begin(), all.end(), id) != all.end();
}

bool is_placeholder(std::string_view inside) {
  static constexpr std::array<std::string_view, 9> kWhole = {
      "photos:before", "photos:after",  "first_touch", "place",    "span",
      "limits",        "smallest_mark", "gear_places", "authority"};
  if (std::find(kWhole.begin(), kWhole.end(), inside) != kWhole.end()) return true;
  const size_t last = inside.rfind(':');
  if (last == std::string_view::npos) return false;
  const std::string_view part = inside.substr(last + 1);
  if (inside.starts_with("rule:") && last > 5) {
    return part == "value" || part == "limit" || part == "margin" || part == "basis";
  }
  if (inside.starts_with("reading:") && last > 8) {
    return (part == "value" || part == "limit" || part == "words" || part == "basis") &&
           is_reading(inside.substr(8, last - 8));
  }
  return inside.starts_with("signal:") && last > 7 &&
         (part == "min" || part == "max" || part == "max_at");
}

// Collects what is wrong with one row.
class RowCheck {
 public:
  RowCheck(const std::string& name, const v1::AllegationKind& kind, std::string& problems)
      : where_(fmt::format("{}: kind {}", name, kind.id())), problems_(problems) {}
  void problem(const std::string& what) { problems_ += where_ + ": " + what + "\n"; }
  void check_reading(const std::string& id) {
    if (id.empty() || is_reading(id)) return;
    problem(fmt::format("no reading '{}'; use one of {}", id, fmt::join(reading_ids(), ", ")));
  }
  void check_words(const std::string& say) {
    if (say.empty()) problem("a text is empty; write `say`");
    const bool closed = each_placeholder(say, [&](std::string_view inside) {
      if (is_placeholder(inside)) return;
      problem(fmt::format(
          "unknown placeholder {{{}}}; use rule:ID:value|limit|margin|basis, "
          "reading:ID:value|limit|basis|words (a reading there is), "
          "signal:NAME:min|max|max_at, photos:before, photos:after, first_touch, place, "
          "span, limits, smallest_mark, gear_places or authority",
          inside));
    });
    if (!closed) problem("a placeholder is not closed in \"" + say + "\"; add }");
  }

 private:
  std::string where_;
  std::string& problems_;
};

void check_row(const std::string& name, const v1::AllegationKind& kind, std::string& problems) {
  RowCheck check(name, kind, problems);
  if (kind.id().empty()) check.problem("no id; give one");
  if (kind.title().empty()) check.problem("no title; give one");
  if (kind.about() == v1::AllegationKind::UNSET) check.problem("about is missing; say ACT or HARM");
  if (kind.settle_size() == 0) {
    check.problem("nothing would settle it; name what would (often the car's own log)");
  }
  bool silent = false;
  for (const auto& rule : kind.rule()) {
    if (rule.id().empty()) check.problem("a rule has no id");
    if (rule.bears() == v1::TiedRule::UNSET) {
      check.problem("rule " + rule.id() + " bears nothing; say CORE, PART or PROOF");
    }
  }
  for (const auto& reading : kind.reading()) {
    check.check_reading(reading.id());
    if (reading.bears() == v1::TiedRule::UNSET) {
      check.problem("reading " + reading.id() + " bears nothing; say CORE, PART or PROOF");
    }
  }
  for (const auto& text : kind.text()) {
    check.check_words(text.say());
    if (text.shows() == v1::TextLine::SHOWS_UNSET) {
      check.problem("a text shows nothing; say AGAINST_IT, FOR_IT or NOT_SHOWN");
    }
    const bool outcome = text.outcome() != v1::TextLine::OUTCOME_UNSET;
    if ((!text.rule().empty() && !outcome) ||
        (outcome && text.rule().empty() && text.reading().empty())) {
      check.problem("a text names a rule without an outcome, or an outcome without a rule");
    }
    if (!text.rule().empty() && !text.reading().empty()) {
      check.problem("a text names a rule and a reading; write two texts");
    }
    check.check_reading(text.reading());
    if (!text.view().empty() && text.pictures() == v1::TextLine::PICTURES_UNSET) {
      check.problem(
          "a text names a view without pictures; say BOTH, BEFORE_ONLY, AFTER_ONLY, NONE");
    }
    silent = silent || text.shows() == v1::TextLine::NOT_SHOWN;
  }
  if (!silent) check.problem("no NOT_SHOWN text; say what this record cannot show");
  for (const auto& settle : kind.settle()) check.check_words(settle);
}

std::string lower(std::string_view text) {
  std::string out(text);
  for (char& c : out) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
  return out;
}

}  // namespace

Result<AllegationTable> read_allegation_table(std::string_view text, const std::string& name) {
  if (text.size() > 1 << 20) return fail(Code::kBadInput, name + ": larger than 1 MiB; split it");
  AllegationTable table;
  FirstError error;
  google::protobuf::TextFormat::Parser parser;
  parser.RecordErrorsTo(&error);
  if (!parser.ParseFromString(std::string(text), &table.rows)) {
    return fail(Code::kBadInput, name + ":" + error.text() + "; correct it");
  }
  std::string problems;
  std::set<std::string> ids;
  for (const auto& kind : table.rows.kind()) {
    check_row(name, kind, problems);
    if (!ids.insert(kind.id()).second) problems += name + ": kind " + kind.id() + " stands twice\n";
  }
  if (ids.empty()) problems += name + ": no kind; add at least one\n";
  if (table.rows.version().empty()) problems += name + ": no version; give one\n";
  if (!problems.empty()) {
    problems.pop_back();
    return fail(Code::kBadInput, problems);
  }
  table.sha256 = hex_of(sha256(text));
  return table;
}

Result<AllegationTable> shipped_allegation_table() {
  const auto text = built_in_file("allegations.textproto");
  if (!text) return std::unexpected(text.error());
  return read_allegation_table(*text, "allegations.textproto");
}

Result<const v1::AllegationKind*> find_kind(const AllegationTable& table, const std::string& id) {
  std::vector<std::string> all;
  for (const auto& kind : table.rows.kind()) {
    if (kind.id() == id) return &kind;
    all.push_back(kind.id());
  }
  return fail(Code::kBadInput, fmt::format("allegation kind '{}': not in the table; use one of {}",
                                           id, fmt::join(all, ", ")));
}

const v1::AllegationKind* guess_kind(const AllegationTable& table, std::string_view words) {
  const std::string text = lower(words);
  const v1::AllegationKind* best = nullptr;
  size_t most = 0;
  for (const auto& kind : table.rows.kind()) {
    size_t hits = 0;
    for (const auto& word : kind.words()) hits += text.find(lower(word)) != std::string::npos;
    if (hits > most) {
      most = hits;
      best = &kind;
    }
  }
  return best;
}

}  // namespace fairlead::reports
