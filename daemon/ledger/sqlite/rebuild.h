// A ledger that nobody has open: read again in full, and its derived tables built again from its
// leaves and bodies where they are damaged or gone.
//
// Threads: one; takes the folder's lock. Needs room for a second copy of the database while it
// builds; the old one stands until the new one is whole.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "daemon/ledger/types.h"
#include "daemon/record/note.h"

namespace fairlead::ledger {

struct OfflineLedger {
  std::filesystem::path folder;
  /// Base: the log's key, and where its newest head stands. Truck: neither.
  std::optional<record::VerifierKey> log;
  std::filesystem::path head_file;
  /// Chains that no entry introduces: a base's officers and services, a truck's own.
  std::vector<ChainStart> own;
};

struct OfflineReport {
  AuditReport report;
  bool rebuilt = false;
  std::string not_rebuilt;  // Why the derived tables could not be built again; empty: no need to.
};

/// Errors: kConflict while a daemon has the folder; kIo, kCorrupt when the database cannot even be
/// opened; kUnavailable when told to stop.
[[nodiscard]] Result<OfflineReport> audit_offline(const OfflineLedger& ledger,
                                                  const AuditOptions& options);

/// Replays every leaf into a new database and puts it in the old one's place. Each entry's place,
/// signature and body are checked on the way. Errors: kCorrupt naming the leaf; nothing has changed
/// then. The caller holds the folder's lock.
[[nodiscard]] Status rebuild_tables(const OfflineLedger& ledger);

}  // namespace fairlead::ledger
