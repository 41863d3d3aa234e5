// The seam between two generations of a base's ledger: a RESTORE entry that the base writes when
// its disk was lost or put back, or its log key changes. The tree grows on; origin, log key and
// roster are new ones.
//
// The seam is signed by both log keys over "fairlead/generation/v1\n" || old origin || "\n" || new
// origin || "\n" || kept_size (u64 BE) || kept_root || SHA-256(roster), and its roster by the same
// root key as the one before. The old signature is empty when that key is lost.
// Threads: pure functions.
#pragma once

#include <string>
#include <string_view>

#include "daemon/record/roster.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::record {

/// n of "<base>/fairlead/g<n>". Errors: kBadInput.
[[nodiscard]] Result<uint32_t> generation_of(std::string_view origin);

[[nodiscard]] std::string seam_text(const v1::RestoreBody& body, std::string_view new_origin);

/// The roster that follows `old` by this seam. Errors: kBadInput malformed; kConflict when another
/// root, base or number stands in it; kCorrupt for a signature that does not verify.
[[nodiscard]] Result<Roster> open_seam(const v1::RestoreBody& body, const Roster& old);

}  // namespace fairlead::record
