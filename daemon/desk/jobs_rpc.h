// The jobs service's gRPC face.
#pragma once

#include <memory>

#include "daemon/desk/answer_rpc.h"
#include "daemon/desk/jobs.h"

namespace fairlead::desk {

[[nodiscard]] std::unique_ptr<grpc::Service> make_jobs_service(Desk& desk, Pool& pool);

}  // namespace fairlead::desk
