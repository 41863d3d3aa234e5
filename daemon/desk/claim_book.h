// Claims as the ledger tells them: the opening, every step after it, the reports issued.
//
// Threads: any; reads only. Blocks on the disk.
#pragma once

#include <string>
#include <vector>

#include "daemon/desk/desk.h"
#include "fairlead/v1/claim_step.pb.h"
#include "fairlead/v1/claims_service.pb.h"

namespace fairlead::desk {

/// All claims, oldest first, with steps, due dates and state at `now_us`. Errors: of the ledger;
/// kCorrupt for a body that cannot be read.
[[nodiscard]] Result<std::vector<v1::Claim>> all_claims(const Desk& desk, int64_t now_us);

/// Errors: kNotFound, naming what lists them.
[[nodiscard]] Result<v1::Claim> claim_named(const Desk& desk, const std::string& claim_id,
                                            int64_t now_us);

/// The number after the highest ever given, erased claims and holds counted in.
[[nodiscard]] Result<uint64_t> next_claim_number(const Desk& desk);

/// Writes a step under no job. Gives its leaf.
[[nodiscard]] Result<uint64_t> write_step(Desk& desk, v1::ClaimStepBody step);

}  // namespace fairlead::desk
