// One rule's outcome on one job, as it is printed, signed and reported.
//
// Threads: values only.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "daemon/judge/meaning.h"

namespace fairlead::judge {

enum class Applies { kYes, kNo, kUnknown };
enum class Verdict { kNone, kMet, kDeviated, kUnproven };  // kNone while applies is kNo.
/// Precedence when several hold: the first in this list.
enum class Reason { kNone, kNoData, kTooClose, kClockDoubt, kSourcesDisagree, kNotYet, kCutShort };
/// How the deciding fact is known: the weakest link of those that decide.
enum class Basis { kNone, kMeasured, kPictured, kSaid };

/// A line of the record that decides the finding. Roles: opens, closes, critical, contradicts.
struct Evidence {
  std::string source;
  uint32_t seq = 0;
  std::string role;
  bool operator==(const Evidence&) const = default;
};

/// A printed decimal: text already rounded outward in `Finding::unit`, absent = no such bound.
using Bound = std::optional<std::string>;

struct Finding {
  std::string rule;
  Applies applies = Applies::kUnknown;
  Verdict verdict = Verdict::kNone;
  Reason reason = Reason::kNone;
  Basis basis = Basis::kNone;
  Bound margin_lo, margin_best, margin_hi;
  std::string unit;
  std::optional<int64_t> at_us;
  std::vector<Evidence> evidence;
  bool settled = false;
  uint32_t revision = 1;
  uint32_t meaning = kMeaning;
  std::string procedure_sha256, register_sha256, inputs_sha256;
  std::string sentence;

  // For reports only, not part of the JSON line: the value and limit behind the margin, printed
  // like the margin, and what the procedure says of the rule.
  std::string title, procedure_id, origin, quantity;
  Bound value_lo, value_best, value_hi;
  std::string limit;
  /// For an unproven finding: records that would decide it, in words.
  std::vector<std::string> would_decide = {};
  /// Of a set: what each of its rules says.
  std::vector<Finding> members = {};
};

[[nodiscard]] const char* word(Applies);
[[nodiscard]] const char* word(Verdict);
[[nodiscard]] const char* word(Reason);
[[nodiscard]] const char* word(Basis);

/// One line of JSON, keys in a fixed order, no trailing newline.
[[nodiscard]] std::string finding_to_json(const Finding&);

}  // namespace fairlead::judge
