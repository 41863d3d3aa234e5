// Declares the next generation of a base's ledger, offline, on its data folder: for a base whose
// disk was put back to an older state, or whose log key changes. The tree grows on under a new log
// key, a new origin and a new roster; the first entry of the generation, RESTORE, says what is kept
// and what was the last head anybody knows (record/generation.h).
//
// Needs keys/root.key. Taken up again where it was cut short. Threads: one; the folder is locked.
#pragma once

#include <filesystem>
#include <string>

#include "daemon/base/result.h"

namespace fairlead::watch {

struct NewGeneration {
  std::string origin, log_key, roster_fingerprint;
  uint64_t leaf = 0;       // Of the RESTORE entry.
  uint64_t kept_size = 0;  // Beginning of the tree as the generation before had signed it.
  uint64_t last_size = 0;  // Of the last head of it that is known; 0 = none.
};

/// `last_head`: a note with the newest head that somebody else holds (the countersigner); empty =
/// none. Errors: kNotFound for a folder or key that is not there, kBadInput for the note, kConflict
/// while the daemon runs, those of the ledger.
[[nodiscard]] Result<NewGeneration> declare_generation(const std::filesystem::path& data,
                                                       const std::string& cause,
                                                       const std::string& last_head);

}  // namespace fairlead::watch
