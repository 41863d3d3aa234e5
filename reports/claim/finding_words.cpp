#include "reports/claim/finding_words.h"

#include <algorithm>

#include "reports/text.h"

namespace fairlead::reports {
namespace {

using judge::Bound;

std::string without_sign(const std::string& number) {
  const bool signed_number = !number.empty() && (number[0] == '-' || number[0] == '+');
  return signed_number ? number.substr(1) : number;
}

// "best unit (lo to hi)"; a range that is one number is not printed twice.
std::string range_words(const Bound& lo, const Bound& best, const Bound& hi,
                        const std::string& unit) {
  const std::string in_unit = unit.empty() ? "" : " " + unit;
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
  std::string out =
      without_sign(*f.margin_best) + (f.unit.empty() ? "" : " " + shown(f.unit)) + " outside";
  const Bound lo = unsigned_bound(f.margin_hi);
  const Bound hi = unsigned_bound(f.margin_lo);
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
  if (f.verdict != judge::Verdict::kUnproven) return {};
  switch (f.reason) {
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
  return shown(f.title.empty() ? f.rule : f.title);
}

}  // namespace fairlead::reports
