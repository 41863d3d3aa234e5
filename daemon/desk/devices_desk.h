// Device service: trucks that exist twice, and a person's word which copy goes on.
//
// Threads: as Desk.
#pragma once

#include "daemon/desk/desk.h"
#include "fairlead/v1/device_service.pb.h"

namespace fairlead::desk {

[[nodiscard]] Result<v1::ListDevicesResponse> list_devices(Desk& desk,
                                                           const v1::ListDevicesRequest& request);
/// On record as a RESTORE entry that names the copy.
[[nodiscard]] Result<v1::DecideCopyResponse> decide_copy(Desk& desk,
                                                         const v1::DecideCopyRequest& request);

}  // namespace fairlead::desk
