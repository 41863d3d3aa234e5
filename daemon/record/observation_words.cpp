#include "daemon/record/observation_words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <vector>

#include "daemon/base/nearest.h"
#include "daemon/base/time_text.h"
#include "daemon/base/utf8.h"
#include "daemon/record/observation_ranges.h"

namespace fairlead::record {
namespace {

using google::protobuf::EnumDescriptor;
using google::protobuf::EnumValueDescriptor;
using google::protobuf::FieldDescriptor;

constexpr std::array<std::string_view, 4> kWheels = {"LF", "RF", "LR", "RR"};
constexpr std::array<std::string_view, 5> kWheelsOrAll = {"ALL", "LF", "RF", "LR", "RR"};
constexpr std::array<std::string_view, 10> kViews = {"front",    "rear",     "left",   "right",
                                                     "interior", "dash",     "screen", "odometer",
                                                     "roof",     "underedge"};
constexpr std::array<std::string_view, 3> kViewPrefixes = {"point:", "wheel:", "spot:"};

std::string joined(std::span<const std::string_view> words) {
  return fmt::format("{}", fmt::join(words.begin(), words.end(), ", "));
}

bool is_word_char(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.' ||
         c == '_' || c == '-';
}

Status check_one_of(std::string_view text, std::span<const std::string_view> words) {
  if (std::ranges::find(words, text) != words.end()) return {};
  return fail(Code::kBadInput, fmt::format("'{}' is not a known word; use one of {}{}", shown(text),
                                           joined(words), nearest_hint(text, words)));
}

Status check_hash(std::string_view text) {
  const bool hex = std::ranges::all_of(text, [](char c) {
    return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f') || (c >= 'A' && c <= 'F');
  });
  if (hex && text.size() == 64) return {};
  return fail(Code::kBadInput,
              fmt::format("'{}' is not a SHA-256; write its 64 hex characters", shown(text)));
}

Status check_time(std::string_view text) {
  const auto time = parse_time_us(text);
  if (!time) return fail(Code::kBadInput, time.error().message);
  return {};
}

Status check_job(std::string_view text) {
  if (text.empty()) return {};  // Whether a job is needed depends on the kind.
  if (text.size() <= kLongestToken && std::ranges::all_of(text, is_word_char)) return {};
  return fail(
      Code::kBadInput,
      fmt::format("'{}' is not a job id; use at most 64 of A-Z a-z 0-9 . _ -", shown(text)));
}

// Ids of sources, clocks, channels: short and printable, so that they can stand in any table.
Status check_id(std::string_view text) {
  const bool printable = std::ranges::all_of(text, [](char c) { return c > ' ' && c < 0x7F; });
  if (!text.empty() && text.size() <= kLongestToken && printable) return {};
  return fail(
      Code::kBadInput,
      fmt::format("'{}' is not an id; use 1 to 64 ASCII characters without spaces", shown(text)));
}

Status check_filled(std::string_view text) {
  if (!text.empty()) return {};
  return fail(Code::kBadInput, "is empty; write its value");
}

Status check_signal(std::string_view text) {
  if (range_of_signal(text)) return {};
  return fail(Code::kBadInput,
              fmt::format("'{}' is not a known signal; use one of {}{}", shown(text),
                          joined(signal_names()), nearest_hint(text, signal_names())));
}

Status check_wheel(std::string_view text) { return check_one_of(text, kWheels); }
Status check_wheel_or_all(std::string_view text) { return check_one_of(text, kWheelsOrAll); }

struct TextRule {
  std::string_view message;  // Empty: in any message.
  std::string_view field;
  Status (*check)(std::string_view);
};

constexpr std::array kRules = {
    TextRule{"", "time", check_time},
    TextRule{"", "received", check_time},
    TextRule{"", "promised", check_time},
    TextRule{"", "job", check_job},
    TextRule{"", "source", check_id},
    TextRule{"", "clock", check_id},
    TextRule{"", "sha256", check_hash},
    TextRule{"", "signal", check_signal},
    TextRule{"Photo", "view", check_view},
    TextRule{"Wheels", "which", check_wheel_or_all},
    TextRule{"Tiedown", "wheel", check_wheel},
    TextRule{"Found", "locked_wheels", check_wheel},
    TextRule{"Found", "flat_tyres", check_wheel},
    TextRule{"Opened", "vehicle", check_filled},
    TextRule{"Opened", "truck", check_filled},
    TextRule{"Opened", "operator", check_filled},
    TextRule{"Opened", "procedures", check_filled},
    TextRule{"", "card", check_filled},
    TextRule{"", "id", check_filled},
    TextRule{"", "rule", check_filled},
    TextRule{"", "which", check_filled},
    TextRule{"", "media_type", check_filled},
    TextRule{"", "channel", check_filled},
    TextRule{"Crew", "operator", check_filled},
};

}  // namespace

std::span<const std::string_view> view_names() { return kViews; }

Status check_view(std::string_view text) {
  for (const auto prefix : kViewPrefixes) {
    if (text.starts_with(prefix) && text.size() > prefix.size()) return {};
  }
  if (std::ranges::find(kViews, text) != kViews.end()) return {};
  return fail(
      Code::kBadInput,
      fmt::format("'{}' is not a known view; use one of {}, point:ID, wheel:LF, spot:WORDS{}",
                  shown(text), joined(kViews), nearest_hint(text, kViews)));
}

std::string shown(std::string_view text) {
  constexpr size_t kShown = 40;
  std::string out;
  for (const char c : text.substr(0, kShown)) {
    out += static_cast<unsigned char>(c) < 0x20 || c == 0x7F ? '?' : c;
  }
  // Not in the middle of a character.
  while (text.size() > kShown && !out.empty() && (static_cast<unsigned char>(out.back()) & 0x80U)) {
    out.pop_back();
  }
  return text.size() > kShown ? out + "..." : out;
}

std::string nearest_hint(std::string_view word, std::span<const std::string_view> words) {
  const std::string hint = suggestion(word, words);
  return hint.starts_with("the nearest") ? "; " + hint : "";
}

std::string_view enum_word(const EnumValueDescriptor& value) {
  constexpr std::string_view kZero = "UNSET";
  const std::string_view zero = value.type()->value(0)->name();
  const std::string_view name = value.name();
  const std::string_view prefix = zero.substr(0, zero.size() - std::min(zero.size(), kZero.size()));
  return name.starts_with(prefix) ? name.substr(prefix.size()) : name;
}

Result<int> enum_number(const EnumDescriptor& words, std::string_view word) {
  std::vector<std::string_view> known;
  for (int i = 0; i < words.value_count(); ++i) {
    const EnumValueDescriptor& value = *words.value(i);
    if (value.number() == 0) continue;
    if (enum_word(value) == word) return value.number();
    known.push_back(enum_word(value));
  }
  return fail(Code::kBadInput, fmt::format("'{}' is not a known word; use one of {}{}", shown(word),
                                           joined(known), nearest_hint(word, known)));
}

Status check_text(const FieldDescriptor& field, std::string_view text) {
  const auto length = code_points(text);
  if (!length) return fail(Code::kBadInput, "is not valid UTF-8; write Unicode text as UTF-8");
  if (*length > kLongestText) {
    return fail(Code::kBadInput, fmt::format("has {} characters; write at most 10,000", *length));
  }
  for (const auto& rule : kRules) {
    if (rule.field != field.name()) continue;
    if (rule.message.empty() || rule.message == field.containing_type()->name()) {
      return rule.check(text);
    }
  }
  return {};
}

}  // namespace fairlead::record
