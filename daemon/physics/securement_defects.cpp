#include "daemon/physics/securement_defects.h"

#include <array>
#include <charconv>
#include <optional>

namespace fairlead::physics {
namespace {

constexpr double kMmPerInch = 25.4;

// Smaller of the width's printings (mm and inch), and the printed limit in inches.
struct DamageRow {
  double width_mm, limit_in;
};
constexpr std::array kDamage{DamageRow{1.75 * kMmPerInch, 3.0 / 8}, DamageRow{50, 3.0 / 8},
                             DamageRow{75, 5.0 / 8}, DamageRow{100, 3.0 / 4}};

struct VoidWord {
  std::string_view word, why;
};
// The beginning of a phrase's first word decides: "melted" and "melt" are one.
constexpr std::array kVoids{
    VoidWord{"knot", "a knot (49 CFR 393.104(f)(1))"},
    VoidWord{"crack", "a crack (49 CFR 393.104(b))"},
    VoidWord{"broken", "something broken (49 CFR 393.104(b))"},
    VoidWord{"melt", "melted (as 29 CFR 1910.184(i)(9); for tiedowns common practice)"},
    VoidWord{"char", "charred (as 29 CFR 1910.184(i)(9); for tiedowns common practice)"},
    VoidWord{"burn", "burnt (as 29 CFR 1910.184(i)(9); for tiedowns common practice)"},
    VoidWord{"acid", "acid burns (as 29 CFR 1910.184(i)(9); for tiedowns common practice)"},
    VoidWord{"caustic", "caustic burns (as 29 CFR 1910.184(i)(9); for tiedowns common practice)"},
    VoidWord{"stitch",
             "broken or worn stitches (as 29 CFR 1910.184(i)(9); for tiedowns common "
             "practice)"},
    VoidWord{"distort", "a distorted fitting (as 29 CFR 1910.184(i)(9), from memory)"},
    VoidWord{"bent", "a distorted fitting (as 29 CFR 1910.184(i)(9), from memory)"}};
constexpr std::array<std::string_view, 5> kSized{"cut", "tear", "torn", "hole", "snag"};

std::string lower(std::string_view text) {
  std::string out(text);
  for (char& c : out) c = static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
  return out;
}

std::string_view trimmed(std::string_view text) {
  const size_t from = text.find_first_not_of(" \t");
  if (from == std::string_view::npos) return {};
  return text.substr(from, text.find_last_not_of(" \t") - from + 1);
}

// "cut 12 mm", "tear of 1/2 in" is not read: a number, then mm or in.
std::optional<double> size_mm(std::string_view phrase) {
  const size_t at = phrase.find_first_of("0123456789");
  if (at == std::string_view::npos) return std::nullopt;
  double value = 0;
  const auto [end, error] =
      std::from_chars(phrase.data() + at, phrase.data() + phrase.size(), value);
  if (error != std::errc()) return std::nullopt;
  const std::string_view unit = trimmed(phrase.substr(static_cast<size_t>(end - phrase.data())));
  if (unit == "mm") return value;
  if (unit == "in") return value * kMmPerInch;
  return std::nullopt;
}

DefectFinding sized(std::string_view phrase, double width_mm) {
  const auto mm = size_mm(phrase);
  if (!mm) return {Verdict::kUnproven, fmt::format("'{}' without its size in mm", phrase)};
  if (width_mm <= 0) return {Verdict::kDeviated, fmt::format("'{}' (49 CFR 393.104(b))", phrase)};
  const auto check = check_webbing_damage(width_mm, exactly(*mm));
  if (!check) return {Verdict::kUnproven, check.error().message};
  return {check->verdict,
          check->verdict == Verdict::kMet ? "" : fmt::format("'{}': {}", phrase, check->words)};
}

DefectFinding judge_phrase(const std::string& phrase, double width_mm) {
  for (const VoidWord& word : kVoids) {
    if (phrase.starts_with(word.word)) return {Verdict::kDeviated, std::string(word.why)};
  }
  for (const std::string_view word : kSized) {
    if (phrase.starts_with(word)) return sized(phrase, width_mm);
  }
  return {Verdict::kUnproven, fmt::format("whether '{}' voids it is not known", phrase)};
}

}  // namespace

std::optional<double> webbing_damage_limit_mm(double width_mm) {
  std::optional<double> limit;
  for (const DamageRow& row : kDamage) {
    if (width_mm >= row.width_mm) limit = row.limit_in * kMmPerInch;
  }
  return limit;
}

Result<Check> check_webbing_damage(double width_mm, Interval damage_mm) {
  if (auto ok = check_input("width_mm", exactly(width_mm), {0, 1e4}); !ok)
    return std::unexpected(ok.error());
  if (auto ok = check_input("damage_mm", damage_mm, {0, kNoBound}); !ok)
    return std::unexpected(ok.error());
  const auto limit = webbing_damage_limit_mm(width_mm);
  const bool whole = damage_mm.hi == 0;
  const Interval need = limit ? exactly(*limit) : whole ? exactly(0) : Interval{0, kNoBound};
  return from(at_most("damage of the webbing", "mm", damage_mm, need),
              "North American out-of-service classification, webbing", Standing::kSecondary,
              limit
                  ? fmt::format("{:.4g} mm ({:.4g} in) is the most that still counts at this width",
                                *limit, *limit / kMmPerInch)
                  : "no limit is printed for so narrow a webbing");
}

DefectFinding judge_defect(std::string_view text, double width_mm) {
  DefectFinding worst;
  while (!text.empty()) {
    const size_t end = std::min(text.find_first_of(",;"), text.size());
    const std::string phrase = lower(trimmed(text.substr(0, end)));
    text.remove_prefix(std::min(end + 1, text.size()));
    if (phrase.empty()) continue;
    const DefectFinding one = judge_phrase(phrase, width_mm);
    if (one.counts > worst.counts) worst = one;
  }
  return worst;
}

}  // namespace fairlead::physics
