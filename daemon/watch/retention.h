// What the record need not keep any longer, by the owner's policy: bodies of a job so many months
// after it was closed, samples outside any job so many months after they came. Openings, closings,
// gaps and the base's own entries stay.
//
// A closing counts from when it reached the base, not by the clock of whoever wrote it, and an
// entry goes only when every job it belongs to or lies within is over. Threads: any; reads the
// whole ledger once. Months are calendar months.
#pragma once

#include <string>
#include <vector>

#include "daemon/base/config.h"
#include "daemon/ledger/ledger.h"
#include "daemon/watch/office.h"

namespace fairlead::watch {

struct DueGroup {
  std::string what;    // "job 4f..", "samples outside any job", "cards".
  std::string policy;  // As the ERASE entry will name it.
  std::vector<uint64_t> leaves;
};

/// The same day so many months before, UTC; the month's last day where it is shorter.
[[nodiscard]] int64_t months_before(int64_t time_us, int64_t months);

/// Whether somebody holds it is not looked at here. Errors: of the ledger.
[[nodiscard]] Result<std::vector<DueGroup>> find_due(const ledger::Ledger& ledger,
                                                     const RetentionConfig& policy, int64_t now_us);

struct ErasureGroup {
  std::string what, why;
  uint64_t entries = 0, bytes = 0;
};

struct ErasureReport {
  std::vector<ErasureGroup> going, held;
  std::vector<uint64_t> erase_leaves;  // Of the ERASE entries.
  std::vector<uint64_t> leaves;
  uint64_t attachments = 0, attachments_shared = 0;
  bool wiped = true;
};

/// Erases, or with `dry_run` only shows; what is held or cannot be erased is told with the reason.
[[nodiscard]] Result<ErasureReport> carry_out(Office& office, const std::vector<DueGroup>& groups,
                                              const std::string& words, bool dry_run);

}  // namespace fairlead::watch
