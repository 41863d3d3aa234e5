// The register service's gRPC face.
#pragma once

#include <memory>

#include "daemon/desk/answer_rpc.h"
#include "daemon/desk/register.h"

namespace fairlead::desk {

[[nodiscard]] std::unique_ptr<grpc::Service> make_register_service(Desk& desk, Pool& pool);

}  // namespace fairlead::desk
