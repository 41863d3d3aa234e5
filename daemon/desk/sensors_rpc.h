// The sensors service's gRPC face, on a truck.
#pragma once

#include <functional>
#include <memory>

#include "daemon/desk/answer_rpc.h"
#include "daemon/desk/sensors_desk.h"

namespace fairlead::desk {

struct SensorsCalls {
  std::function<Result<v1::GetSensorsResponse>(const v1::GetSensorsRequest&)> get;
  /// Puts a line on record and gives its leaf.
  std::function<Result<uint64_t>(v1::Observation)> say_now;
  std::function<int64_t()> wall_us;
};

/// What the calls use must outlive the service.
[[nodiscard]] std::unique_ptr<grpc::Service> make_sensors_service(SensorsCalls calls, Pool& pool);

}  // namespace fairlead::desk
