// All services of a base's desk: the one place where a new service is registered.
#pragma once

#include <memory>
#include <vector>

#include "daemon/desk/answer_rpc.h"
#include "daemon/desk/desk.h"

namespace fairlead::desk {

class Deliveries;

/// `deliveries` null: nothing goes out by itself.
[[nodiscard]] std::vector<std::unique_ptr<grpc::Service>> make_desk_services(
    Desk& desk, Pool& pool, Deliveries* deliveries = nullptr);

}  // namespace fairlead::desk
