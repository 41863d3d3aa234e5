// Retention service: what is due goes, what somebody asks for goes, what is held stays; holds are
// listed, widened and ended.
//
// Threads: as Desk. RunRetention reads the whole ledger.
#pragma once

#include "daemon/desk/desk.h"
#include "fairlead/v1/retention_service.pb.h"

namespace fairlead::desk {

[[nodiscard]] Result<v1::RunRetentionResponse> run_retention(
    Desk& desk, const v1::RunRetentionRequest& request);
/// Errors: kBadInput without words or with nothing named, kNotFound for what is not on record.
[[nodiscard]] Result<v1::EraseOnRequestResponse> erase_on_request(
    Desk& desk, const v1::EraseOnRequestRequest& request);

/// Runs it when it is on and the last run is a day ago; a failure is tried again an hour later.
void daily_retention(Desk& desk, const std::function<void(const std::string&)>& log);

[[nodiscard]] Result<v1::ListHoldsResponse> list_holds(Desk& desk,
                                                       const v1::ListHoldsRequest& request);
[[nodiscard]] Result<v1::AddHoldResponse> add_hold(Desk& desk, const v1::AddHoldRequest& request);
/// Errors: kBadInput unless two different people approve; kNotFound when nothing is held.
[[nodiscard]] Result<v1::EndHoldResponse> end_hold(Desk& desk, const v1::EndHoldRequest& request);

}  // namespace fairlead::desk
