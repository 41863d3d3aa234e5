// The ledger service's gRPC face; on a truck only GetStatus answers.
#pragma once

#include <functional>
#include <memory>

#include "daemon/desk/answer_rpc.h"
#include "daemon/desk/ledger_desk.h"

namespace fairlead::desk {

[[nodiscard]] std::unique_ptr<grpc::Service> make_ledger_service(Desk& desk, Pool& pool);
[[nodiscard]] std::unique_ptr<grpc::Service> make_status_service(
    std::function<v1::GetStatusResponse()> status, Pool& pool);

}  // namespace fairlead::desk
