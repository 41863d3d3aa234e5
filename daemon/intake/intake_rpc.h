// The intake's gRPC face. Reactions only move messages between the stream and the room.
//
// Threads: the service outlives the server it is registered with.
#pragma once

#include <memory>

#include "daemon/intake/intake_room.h"
#include "fairlead/v1/intake_service.grpc.pb.h"

namespace fairlead::intake {

/// The room must outlive the service.
[[nodiscard]] std::unique_ptr<grpc::Service> make_intake_service(IntakeRoom& room);

}  // namespace fairlead::intake
