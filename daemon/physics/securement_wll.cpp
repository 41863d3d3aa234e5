#include "daemon/physics/securement_wll.h"

namespace fairlead::physics {

Interval aggregate_wll(std::span<const Tiedown> tiedowns) {
  Interval sum = exactly(0);
  for (const Tiedown& tiedown : tiedowns)
    sum += credit_of(tiedown.path) * weakest_part(tiedown).wll;
  return sum;
}

Result<Check> check_aggregate(std::span<const Tiedown> tiedowns, Interval weight, WeightUnit unit) {
  if (auto ok = check_input("weight", weight, {0, 1e7}); !ok) return std::unexpected(ok.error());
  std::string words;
  for (const Tiedown& tiedown : tiedowns) {
    const Weakest weakest = weakest_part(tiedown);
    if (auto ok = check_input("rating of '" + tiedown.name + "'", weakest.wll, {0, kNoBound}); !ok)
      return std::unexpected(ok.error());
    if (!weakest.words.empty()) words += (words.empty() ? "" : "; ") + weakest.words;
  }
  return from(at_least("aggregate working load limit", std::string(word_of(unit)),
                       aggregate_wll(tiedowns), kShareOfWeight * weight),
              "49 CFR 393.106(d)", Standing::kSecondary, words);
}

}  // namespace fairlead::physics
