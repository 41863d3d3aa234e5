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
[[nodiscard]] v1::Disk disk_message(const watch::DiskState& state);
[[nodiscard]] v1::Scrub scrub_message(const watch::ScrubState& state);

/// Every entry, body and attachment of a job against the newest head, before a report is made of
/// them. What is damaged is named, and put on record as an ALARM each.
struct ItemCheck {
  size_t entries = 0;
  std::vector<std::string> problems;
};
[[nodiscard]] Result<ItemCheck> check_job_items(Desk& desk, const record::Id16& job);

}  // namespace fairlead::desk
