// Which entries belong to a job: one answer for the judge's feed, the bundle and the verifier.
//
// A job is opened by one device. Its entries are those of that device that carry its id. It is
// judged on them and on all that the device recorded from its JOB_OPEN to its JOB_CLOSE: strips,
// lines of no job (alive, gap, clockOffset), and lines of another job open at the same time, which
// only show that no sequence number is missing. Entries of other devices under the id are foreign.
// Threads: pure functions.
#pragma once

#include <compare>
#include <optional>

#include "daemon/record/entry.h"

namespace fairlead::record {

/// Place in a device's chain.
struct ChainPlace {
  uint32_t epoch = 1;
  uint64_t seq = 0;
  auto operator<=>(const ChainPlace&) const = default;
};
[[nodiscard]] inline ChainPlace place_of(const EntryHeader& header) {
  return {header.epoch, header.seq};
}

struct JobSpan {
  Id16 job_id{};
  Id16 device_id{};                 // The device that opened it.
  ChainPlace open;                  // Its first JOB_OPEN.
  std::optional<ChainPlace> close;  // Its last JOB_CLOSE; absent while open.
};

/// The entry's body holds lines the job is judged on (OBSERVATIONS, STRIP, JOB_OPEN, JOB_CLOSE,
/// RECOVERED).
[[nodiscard]] bool is_judged_in(const EntryHeader& header, const JobSpan& span);
/// A bundle about the job must show this entry's body, or that it was erased: all that carries the
/// job's id and all that its device recorded from its opening to its closing (gaps, clock steps,
/// restarts, files in force too), but for cards of other jobs.
[[nodiscard]] bool must_show_body(const EntryHeader& header, const JobSpan& span);
/// Carries the job's id but comes from another device; base entries are never foreign.
[[nodiscard]] bool is_foreign_to(const EntryHeader& header, const JobSpan& span);

}  // namespace fairlead::record
