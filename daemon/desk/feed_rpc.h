// The feed service's gRPC face, for a truck and for a base.
#pragma once

#include <functional>
#include <memory>

#include "daemon/desk/answer_rpc.h"
#include "daemon/desk/feed.h"

namespace fairlead::desk {

/// `recorder` may give null while a truck is not enrolled yet. All must outlive the service.
[[nodiscard]] std::unique_ptr<grpc::Service> make_feed_service(
    std::function<watch::Recorder*()> recorder, Pool& pool);

}  // namespace fairlead::desk
