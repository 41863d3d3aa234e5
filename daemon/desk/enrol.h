// The half of the register service that is about keys: trucks enrolled and revoked, rosters taken.
//
// Threads: as Desk.
#pragma once

#include "daemon/desk/desk.h"
#include "fairlead/v1/register_service.pb.h"

namespace fairlead::desk {

/// Asks for the code read in the cab and, where the roster names officers, the signature of one.
[[nodiscard]] Result<v1::EnrolTruckResponse> enrol_truck(Desk& desk,
                                                         const v1::EnrolTruckRequest& request);
[[nodiscard]] Result<v1::RevokeTruckResponse> revoke_truck(Desk& desk,
                                                           const v1::RevokeTruckRequest& request);
[[nodiscard]] Result<v1::PutRosterResponse> put_roster(Desk& desk,
                                                       const v1::PutRosterRequest& request);
[[nodiscard]] Result<v1::ListTrucksResponse> list_trucks(Desk& desk,
                                                         const v1::ListTrucksRequest& request);

}  // namespace fairlead::desk
