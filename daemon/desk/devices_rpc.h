// The device service's gRPC face.
#pragma once

#include <memory>

#include "daemon/desk/answer_rpc.h"
#include "daemon/desk/devices_desk.h"

namespace fairlead::desk {

[[nodiscard]] std::unique_ptr<grpc::Service> make_device_service(Desk& desk, Pool& pool);

}  // namespace fairlead::desk
