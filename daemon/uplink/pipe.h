// One connection to the base as the uplink sees it.
//
// Threads: used by one thread.
#pragma once

#include <chrono>
#include <memory>
#include <optional>

#include "daemon/base/result.h"
#include "fairlead/v1/intake_service.pb.h"

namespace fairlead::uplink {

class Pipe {
 public:
  virtual ~Pipe() = default;
  /// Queues it. Errors: kUnavailable once the connection is broken.
  [[nodiscard]] virtual Status send(v1::Shipment shipment) = 0;
  /// nullopt when nothing came in that time. Errors: kUnavailable once the connection is broken and
  /// everything that came before has been read.
  [[nodiscard]] virtual Result<std::optional<v1::Reply>> receive(
      std::chrono::milliseconds wait) = 0;
};

}  // namespace fairlead::uplink
