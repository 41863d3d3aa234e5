// A base's or a truck's data folder as it lies on disk, for a reading without the daemon.
//
// Threads: one. Reads a few small files; changes nothing.
#pragma once

#include <filesystem>

#include "daemon/ledger/sqlite/rebuild.h"

namespace fairlead::cli {

/// Errors: kNotFound for a folder that is neither, kBadInput or kCorrupt for files that do not
/// read.
[[nodiscard]] Result<ledger::OfflineLedger> offline_ledger(const std::filesystem::path& data);

}  // namespace fairlead::cli
