// The summaries service's gRPC face.
#pragma once

#include <memory>

#include "daemon/desk/answer_rpc.h"
#include "daemon/desk/summaries.h"

namespace fairlead::desk {

class Deliveries;

[[nodiscard]] std::unique_ptr<grpc::Service> make_summaries_service(Desk& desk, Pool& pool,
                                                                    Deliveries* deliveries);

}  // namespace fairlead::desk
