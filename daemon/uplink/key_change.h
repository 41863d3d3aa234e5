// A truck's key changes at a start, before anything is recorded: what the old key signed is sent
// first, then the base writes the ROTATE entry, then the new key takes over.
//
// Threads: one; blocks for at most the time given.
#pragma once

#include "daemon/uplink/truck_disk.h"
#include "daemon/uplink/uplink_room.h"

namespace fairlead::uplink {

/// Errors: kUnavailable when the base cannot be reached in time (the old key goes on, the next
/// start tries again); kDenied in the base's words.
[[nodiscard]] Status change_key(TruckDisk& disk, const UplinkOptions& options,
                                std::chrono::milliseconds time);

}  // namespace fairlead::uplink
