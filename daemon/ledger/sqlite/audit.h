// Reads a ledger again and checks each byte of it against the rest: hashes, chains, signatures,
// tree, commitments, the published head.
//
// Threads: as the connection.
#pragma once

#include "daemon/ledger/attachments.h"
#include "daemon/ledger/sqlite/database.h"
#include "daemon/ledger/types.h"

namespace fairlead::ledger {

struct AuditScope {
  bool tree = false;
  std::optional<SignedHead> head;
  /// Only leaves from here on (a multiple of 1,024), and the tree's edge.
  uint64_t from_leaf = 0;
  /// Also the database's own pages, the derived tables and the files; needs from_leaf 0.
  bool pages = true;
};

/// Reads one snapshot: what is committed meanwhile is left out. Problems are in the report; an
/// error means it could not be read at all.
[[nodiscard]] Result<AuditReport> audit_snapshot(const Database& database, const AuditScope& scope);

/// The whole folder through a connection of its own, in pieces of a thousand leaves, each in a
/// transaction of its own: writing and the wiping of the log go on meanwhile. What cannot be read
/// becomes a problem. Errors: kUnavailable when it is told to stop.
[[nodiscard]] Result<AuditReport> audit_files(const std::filesystem::path& folder,
                                              const AuditScope& scope, const AuditOptions& options);

}  // namespace fairlead::ledger
