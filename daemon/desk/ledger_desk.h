// Ledger service: head, proofs, audit.
//
// Threads: as Desk; audit reads everything and takes long.
#pragma once

#include "daemon/desk/desk.h"
#include "fairlead/v1/ledger_service.pb.h"

namespace fairlead::desk {

[[nodiscard]] Result<v1::GetStatusResponse> get_status(Desk& desk,
                                                       const v1::GetStatusRequest& request);
[[nodiscard]] Result<v1::GetHeadResponse> get_head(Desk& desk, const v1::GetHeadRequest& request);
[[nodiscard]] Result<v1::ProveResponse> prove(Desk& desk, const v1::ProveRequest& request);
[[nodiscard]] Result<v1::AuditResponse> audit(Desk& desk, const v1::AuditRequest& request);

/// Countersigning::ask and take.
[[nodiscard]] Result<v1::GetCountersignResponse> get_countersign(
    Desk& desk, const v1::GetCountersignRequest& request);
[[nodiscard]] Result<v1::TakeCountersignResponse> take_countersign(
    Desk& desk, const v1::TakeCountersignRequest& request);

}  // namespace fairlead::desk
