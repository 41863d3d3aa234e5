#include "reports/claim/finding_words.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "reports/claim/event_words.h"
#include "reports/text.h"

namespace fairlead::reports {
namespace {

using judge::Bound;

enum class Toward { kDown, kNearest, kUp };

// Decimals a reader can use; the record keeps all of them.
int decimals_of(const std::string& unit) {
  if (unit == "km/h" || unit == "V") return 2;
  return unit == "kg" || unit == "deg" || unit == "N" ? 0 : 1;
}

// Rounds a bound outward. A figure that is already short stays as it is; so does one that rounding
// would bring to zero, since the sign decides the verdict.
Bound rounded(const Bound& bound, const std::string& unit, Toward toward) {
  if (!bound) return bound;
  const auto places = static_cast<size_t>(decimals_of(unit));
  const size_t dot = bound->find('.');
  const auto value = read_number(*bound);
  if (!value || dot == std::string::npos || bound->size() - dot - 1 <= places) return bound;
  const double scale = std::pow(10, decimals_of(unit));
  const double scaled = *value * scale;
  const double whole = toward == Toward::kDown ? std::floor(scaled)
                       : toward == Toward::kUp ? std::ceil(scaled)
                                               : std::round(scaled);
  if (whole == 0) return bound;
  return fixed(whole / scale, decimals_of(unit));
}

std::string without_sign(const std::string& number) {
  const bool signed_number = !number.empty() && (number[0] == '-' || number[0] == '+');
  return signed_number ? number.substr(1) : number;
}

// "best unit (lo to hi)"; a range that is one number is not printed twice.
std::string range_words(const Bound& exact_lo, const Bound& exact_best, const Bound& exact_hi,
                        const std::string& unit) {
  const Bound lo = rounded(exact_lo, unit, Toward::kDown);
  const Bound best = rounded(exact_best, unit, Toward::kNearest);
  const Bound hi = rounded(exact_hi, unit, Toward::kUp);
  const bool one = unit == "items" && best == "1" && (!lo || lo == best) && (!hi || hi == best);
  const std::string in_unit = unit.empty() ? "" : one ? " item" : " " + unit;
  if (!best) {
    if (lo && hi) return *lo + " to " + *hi + in_unit;
    if (lo) return "at least " + *lo + in_unit;
    if (hi) return "at most " + *hi + in_unit;
    return {};
  }
  std::string out = *best + in_unit;
  if (lo && hi && (*lo != *best || *hi != *best)) {
    out += " (" + *lo + " to " + *hi + ")";
  } else if (lo && !hi) {
    out += " (" + *lo + " or more)";
  } else if (hi && !lo) {
    out += " (" + *hi + " or less)";
  }
  return out;
}

Bound unsigned_bound(const Bound& bound) {
  if (!bound) return bound;
  return without_sign(*bound);
}

}  // namespace

std::string value_words(const judge::Finding& f) {
  const std::string words = range_words(f.value_lo, f.value_best, f.value_hi, shown(f.unit));
  return words.empty() ? "-" : words;
}

std::string limit_words(const judge::Finding& f) {
  if (f.limit.empty()) return "-";
  // An order or a count names events; their record names are put in words.
  if (f.limit.find(" before ") != std::string::npos || f.limit.find(" after ") != std::string::npos)
    return with_event_words(f.limit);
  constexpr std::array<std::array<const char*, 2>, 4> kNamed = {
      {{"line.free_roll", "the pull of locked wheels"},
       {"line.rating", "the rating of the weakest part"},
       {"line.layer", "the pull of the drum layer in use"},
       {"point.rating", "the rating of the point"}}};
  for (const auto& [name, words] : kNamed) {
    if (f.limit.ends_with(name)) {
      return f.limit.substr(0, f.limit.size() - std::string(name).size()) + words;
    }
  }
  const bool has_unit = std::any_of(f.limit.begin(), f.limit.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '%';
  });
  return shown(f.limit) + (has_unit || f.unit.empty() ? "" : " " + shown(f.unit));
}

std::string margin_signed(const judge::Finding& f) {
  const std::string words = range_words(f.margin_lo, f.margin_best, f.margin_hi, shown(f.unit));
  return words.empty() ? "-" : words;
}

std::string margin_words(const judge::Finding& f) {
  if (f.verdict == judge::Verdict::kMet) {
    const std::string words = range_words(f.margin_lo, f.margin_best, f.margin_hi, shown(f.unit));
    return words;
  }
  if (f.verdict != judge::Verdict::kDeviated) return margin_signed(f);
  if (!f.margin_best) return "outside";
  const Bound best = rounded(f.margin_best, f.unit, Toward::kNearest);
  std::string out = without_sign(*best) + (f.unit.empty() ? "" : " " + shown(f.unit)) + " outside";
  const Bound lo = unsigned_bound(rounded(f.margin_hi, f.unit, Toward::kUp));
  const Bound hi = unsigned_bound(rounded(f.margin_lo, f.unit, Toward::kDown));
  if (lo && hi && *lo != *hi) out += " (" + *lo + " to " + *hi + ")";
  return out;
}

std::string verdict_words(const judge::Finding& f) {
  if (f.applies == judge::Applies::kNo) return "does not apply";
  return judge::word(f.verdict);
}

std::string basis_words(const judge::Finding& f) {
  switch (f.basis) {
    case judge::Basis::kMeasured:
      return "measured";
    case judge::Basis::kPictured:
      return "pictured";
    case judge::Basis::kSaid:
      return "said";
    case judge::Basis::kNone:
      break;
  }
  return "-";
}

std::string reason_words(const judge::Finding& f) {
  return f.verdict == judge::Verdict::kUnproven ? reason_words(f.reason) : std::string();
}

std::string reason_words(judge::Reason reason) {
  switch (reason) {
    case judge::Reason::kNoData:
      return "nothing on record, or a hole in it";
    case judge::Reason::kTooClose:
      return "too close to the limit to tell";
    case judge::Reason::kClockDoubt:
      return "times cannot be ordered";
    case judge::Reason::kSourcesDisagree:
      return "sources disagree";
    case judge::Reason::kNotYet:
      return "not yet: the job is open";
    case judge::Reason::kCutShort:
      return "the record ends too early";
    case judge::Reason::kNone:
      break;
  }
  return "not shown";
}

std::string title_words(const judge::Finding& f) {
  const std::string title = shown(f.title.empty() ? f.rule : f.title);
  // The rule's second finding bears the same title.
  return f.rule.ends_with(".count") ? title + ": their number" : title;
}

}  // namespace fairlead::reports
