// All that rules look at in one job, worked out from its lines, and kept while more of them come.
//
// Threads: one at a time.
#pragma once

#include "daemon/judge/fact_book.h"
#include "daemon/judge/job_lines.h"
#include "daemon/judge/kept_work.h"
#include "daemon/judge/quantities.h"
#include "daemon/judge/rigging_state.h"
#include "daemon/judge/rulebook.h"

namespace fairlead::judge {

struct JobState {
  /// Makes JobLines of what is given after the rules.
  template <typename... Lines>
  explicit JobState(const Rulebook::Content& rules, Lines&&... given)
      : lines(std::forward<Lines>(given)...),
        parties(parties_of(lines, rules.book)),
        rigging(lines, rules.book),
        quantities(lines, rules.book, parties, rigging),
        facts(lines, quantities, parties) {}
  JobState(const JobState&) = delete;
  JobState& operator=(const JobState&) = delete;

  /// Takes up lines that have come since; false: they change what stands before them, and this is
  /// to be made anew.
  [[nodiscard]] bool grow(std::span<const ReadLine* const> fresh) {
    const auto first = lines.grow(fresh);
    if (!first) return false;
    const auto place = static_cast<size_t>(*first);
    const int64_t changed_from_us =
        place < lines.lines().size() ? lines.line(*first).stamp.time_us : kForever;
    rigging.follow();
    quantities.follow(changed_from_us);
    kept.follow(changed_from_us);
    facts.follow(changed_from_us);
    return true;
  }

  JobLines lines;
  JobParties parties;
  RiggingState rigging;
  Quantities quantities;
  KeptWork kept;
  FactBook facts;
};

}  // namespace fairlead::judge
