// A mark in the ledger's folder that a write or sync has failed: the next start reads everything
// again before it trusts the files.
//
// Threads: any.
#pragma once

#include <filesystem>

#include "daemon/base/result.h"

namespace fairlead::ledger {

/// Lays the mark ready while all is well: on a full disk a file can still be renamed. Best effort.
void prepare_suspicion(const std::filesystem::path& folder);
/// Best effort: the disk may be gone.
void mark_suspect(const std::filesystem::path& folder);
[[nodiscard]] bool is_suspect(const std::filesystem::path& folder);
/// After a full read found nothing.
[[nodiscard]] Status clear_suspect(const std::filesystem::path& folder);

}  // namespace fairlead::ledger
