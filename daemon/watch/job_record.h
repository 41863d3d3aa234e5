// A job as the ledger tells it: the lines it is judged by and the files that were in force; and the
// judgement that follows. The offline verifier judges the same lines under the same files, so the
// choice of entries is record::is_judged_in's and nothing is added or left out here.
//
// Threads: any; reads only. Blocks on the disk.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "daemon/judge/judge.h"
#include "daemon/ledger/ledger.h"
#include "daemon/watch/job_id.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::watch {

/// The device's wall clock moved against its monotonic one while the job was open.
struct ClockStep {
  uint64_t leaf = 0;
  int64_t expected_us = 0, shown_us = 0;
};

struct JobRecord {
  ledger::JobRow row;
  /// What its lines call it: 32 hex characters, or the token of a fed file.
  std::string name;
  v1::Observation opened;
  /// Files in force at the opening.
  std::vector<v1::Pin> pins;
  /// In the order of the opener's chain.
  std::vector<v1::Observation> lines;
  /// Lines other devices put under the job (the desk's photos): shown, not judged.
  std::vector<v1::Observation> foreign;
  /// Lines made after the device's key was revoked: shown, not judged.
  std::vector<v1::Observation> quarantined;
  std::vector<ClockStep> clock_steps;
  uint64_t entries = 0;  // Under its id, made by devices.
  /// Bodies promised, not yet here; and erased.
  size_t bodies_missing = 0, bodies_erased = 0;
  /// Of the lines: brought in again after the truck's disk was put back. And bodies that the truck
  /// said nobody holds any more; the judge sees their lines' numbers missing.
  size_t recovered = 0, bodies_lost = 0;
};

/// Errors: kNotFound, kCorrupt for a body that cannot be read.
[[nodiscard]] Result<JobRecord> read_job(const ledger::Ledger& ledger, const record::Id16& job);

/// The pinned files, compiled. Errors: kNotFound for a file the ledger does not hold, kBadInput.
[[nodiscard]] Result<judge::Rulebook> rules_of(const ledger::Ledger& ledger,
                                               const std::vector<v1::Pin>& pins);

/// The line that ended the job, its latest; nullptr while it is open.
[[nodiscard]] const v1::Observation* closing_line(const JobRecord& job);

}  // namespace fairlead::watch
