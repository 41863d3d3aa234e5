// Claims service: a claim in the claimant's own words goes on record (CLAIM), its evidence on hold
// (HOLD); the report answers it from the record.
//
// Threads: as Desk. write_claim_report reads the whole ledger again and lays out pages: seconds.
#pragma once

#include "daemon/desk/desk.h"
#include "fairlead/v1/claims_service.pb.h"

namespace fairlead::desk {

/// Checks every field first; nothing is written unless all are good. The claimant's name goes into
/// a CARD of its own, so that it can be erased. Errors: kNotFound for the job, kBadInput naming the
/// field.
[[nodiscard]] Result<v1::OpenClaimResponse> open_claim(Desk& desk,
                                                       const v1::OpenClaimRequest& request);
[[nodiscard]] Result<v1::GetClaimResponse> get_claim(Desk& desk,
                                                     const v1::GetClaimRequest& request);
[[nodiscard]] Result<v1::ListClaimsResponse> list_claims(Desk& desk,
                                                         const v1::ListClaimsRequest& request);
/// Files go to DATA/reports/CLAIM-TIME/ and into the answer. REPORT_ISSUED holds the SHA-256 of
/// JSON, HTML and plain PDF. A draft leaves none; a step of the claim (DRAFT) where record_draft
/// asks.
[[nodiscard]] Result<v1::WriteClaimReportResponse> write_claim_report(
    Desk& desk, const v1::WriteClaimReportRequest& request);

}  // namespace fairlead::desk
