// gRPC face of sheet.h.
#pragma once

#include <memory>

#include "daemon/desk/answer_rpc.h"
#include "daemon/desk/desk.h"

namespace fairlead::desk {

[[nodiscard]] std::unique_ptr<grpc::Service> make_sheets_service(Desk& desk, Pool& pool);

}  // namespace fairlead::desk
