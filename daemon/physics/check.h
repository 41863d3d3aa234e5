// One line of an answer: what is there, what is needed, where the need comes from, and the margin.
// The rooms of physics give lists of these; plan, pages and reports print them.
//
// Threads: values only. Units: `unit` names that of have, need and margin.
#pragma once

#include <span>
#include <string>
#include <utility>

#include "daemon/physics/interval.h"

namespace fairlead::physics {

/// How well the figures behind a check are known; printed beside it.
enum class Standing { kPublished, kSecondary, kMemory, kMaker, kPractice };

[[nodiscard]] constexpr std::string_view word_of(Standing standing) {
  switch (standing) {
    case Standing::kPublished:
      return "published";
    case Standing::kSecondary:
      return "published, read in a secondary source";
    case Standing::kMemory:
      return "from memory";
    case Standing::kMaker:
      return "maker's figure";
    case Standing::kPractice:
      return "common practice, no source";
  }
  return "";
}

struct Check {
  std::string what;    // "aggregate working load limit"
  std::string origin;  // "49 CFR 393.106(d)", with its edition where there are several
  Standing standing = Standing::kPractice;
  std::string unit;
  Interval have, need, margin;
  Verdict verdict = Verdict::kUnproven;
  std::string words;    // What decides, what is not known; may be empty.
  bool decides = true;  // False: shown only, as another rule deems it met.
};

/// Worst verdict of those that decide; unproven where none does.
[[nodiscard]] inline Verdict worst_of(std::span<const Check> checks) {
  bool any = false;
  Verdict worst = Verdict::kMet;
  for (const Check& check : checks) {
    if (check.decides) worst = both(worst, check.verdict), any = true;
  }
  return any ? worst : Verdict::kUnproven;
}

/// `have` must reach `need`, or must not pass it.
[[nodiscard]] inline Check at_least(std::string what, std::string unit, Interval have,
                                    Interval need) {
  Check check;
  check.what = std::move(what), check.unit = std::move(unit);
  check.have = have, check.need = need, check.margin = have - need;
  check.verdict = verdict_of(check.margin);
  return check;
}
[[nodiscard]] inline Check at_most(std::string what, std::string unit, Interval have,
                                   Interval need) {
  Check check = at_least(std::move(what), std::move(unit), have, need);
  check.margin = need - have;
  check.verdict = verdict_of(check.margin);
  return check;
}
[[nodiscard]] inline Check from(Check check, std::string origin, Standing standing,
                                std::string words = {}) {
  check.origin = std::move(origin), check.standing = standing, check.words = std::move(words);
  return check;
}

}  // namespace fairlead::physics
