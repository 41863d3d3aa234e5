// Opens a ledger kept in a SQLite database.
//
// The folder holds ledger.db (with -wal, -shm) and attachments/; the head file stands elsewhere, so
// that restoring the folder alone is noticed.
// Threads: open from one thread; one process a folder (a lock is held while open).
#pragma once

#include <chrono>
#include <filesystem>
#include <memory>

#include "daemon/ledger/ledger.h"
#include "daemon/record/note.h"

namespace fairlead::ledger {

/// The log key of a base: its name is the origin of the checkpoints.
struct LogSigner {
  record::VerifierKey log;
  std::shared_ptr<const SecretKey> secret;
};

struct Options {
  std::filesystem::path folder;
  /// Base: set both, the ledger keeps a tree and signs heads. Truck: neither.
  std::optional<LogSigner> signer;
  std::filesystem::path head_file;
  /// False: heads are signed only after allow_signing().
  bool sign_at_once = true;
  /// ledger_id of the entries made here; of a base SHA-256(origin)[0..16].
  Id16 ledger_id{};
  /// Base: earlier generations, whose entries are taken in too.
  std::vector<Id16> ancestors;
  std::chrono::milliseconds linger{10};
  size_t most_in_group = 256;
  std::chrono::milliseconds head_after{1'000};
};

/// Creates what is missing. Checks the end of the ledger against itself and the head file; after an
/// earlier I/O failure it reads everything again first. Errors: kUnavailable when another process
/// has it open, kCorrupt with what does not verify, kIo.
[[nodiscard]] Result<std::unique_ptr<Ledger>> open_sqlite(const Options& options);

}  // namespace fairlead::ledger
