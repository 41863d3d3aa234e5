// The newest signed head in a file of its own, outside the database's folder: a database put back
// from an older copy is then found to be smaller than what was already published.
//
// Threads: one writer at a time.
#pragma once

#include <filesystem>
#include <optional>

#include "daemon/ledger/types.h"
#include "daemon/record/note.h"

namespace fairlead::ledger {

/// nullopt when there is no file. Errors: kCorrupt when it is not a head signed by this log.
[[nodiscard]] Result<std::optional<SignedHead>> load_head(const std::filesystem::path& file,
                                                          const record::VerifierKey& log);
/// On disk when it returns.
[[nodiscard]] Status save_head(const std::filesystem::path& file, const SignedHead& head);

}  // namespace fairlead::ledger
