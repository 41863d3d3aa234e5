// What the owner does with a claim after it is open; each step an entry.
//
// Threads: as Desk.
#pragma once

#include <functional>
#include <string>

#include "daemon/desk/desk.h"
#include "fairlead/v1/claims_service.pb.h"

namespace fairlead::desk {

/// Checks the step and writes it; evidence goes into the ledger's attachments first. Gives the
/// claim as it then stands. Errors: kNotFound for the claim, kBadInput naming the field.
[[nodiscard]] Result<v1::AddClaimStepResponse> add_claim_step(
    Desk& desk, const v1::AddClaimStepRequest& request);

/// Jobs that fit what is known of a claim, the likeliest first, at most fifty. Errors: kBadInput
/// where nothing is asked for or a field does not read.
[[nodiscard]] Result<v1::FindClaimJobsResponse> find_claim_jobs(
    const Desk& desk, const v1::FindClaimJobsRequest& request);

/// claim.json and claim.txt (the claim and its steps), its evidence, every report on the base's
/// disk, the job's lines and its bundle. That it went out is an entry.
[[nodiscard]] Result<v1::ExportClaimResponse> export_claim(Desk& desk,
                                                           const v1::ExportClaimRequest& request);

/// Writes a REMINDER once for each open due date that is seven days off or less, or overdue. Says
/// how many.
[[nodiscard]] Result<size_t> remind_claims(Desk& desk, int64_t now_us);
/// The same once a day, however often it is called; what went wrong goes to `log`.
void daily_reminders(Desk& desk, const std::function<void(const std::string&)>& log);

/// Same check for all texts of claims: UTF-8, at most `most` characters.
[[nodiscard]] Status check_claim_text(const char* field, const std::string& text, size_t most);

}  // namespace fairlead::desk
