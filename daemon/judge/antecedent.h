// Which earlier event counts for a later one: the last edge of a fact that must be in force, or a
// momentary event since the last such later one. Shared by comes_first and wait_between.
//
// Threads: a JobView belongs to one thread.
#pragma once

#include <set>
#include <string>

#include "daemon/judge/forms.h"
#include "daemon/judge/vocabulary.h"

namespace fairlead::judge {

/// The `first` that counts for a `then`, and what stands against it. Pointers into the FactBook.
struct Antecedent {
  const Stamp* before = nullptr;  // In force or seen before.
  const Stamp* after = nullptr;   // Else the next one after, for how far the order was reversed.
  std::set<Reason> doubts;
  bool by_clock = false;  // Two clocks alone leave open whether it was in force.
};

/// A fact's edge: the fact must be so at `then`; its last edge is the time that counts.
[[nodiscard]] Antecedent in_force(JobView& view, const FactEvent& edge, const std::string& name,
                                  const Stamp& then);

/// A momentary event after `last_then` (nullptr: since the beginning) up to `then`: the earliest,
/// or the latest.
[[nodiscard]] Antecedent since_last(JobView& view, const std::string& name, const Stamp* last_then,
                                    const Stamp& then, bool latest);

}  // namespace fairlead::judge
