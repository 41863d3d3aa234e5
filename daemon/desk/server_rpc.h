// The daemon's gRPC server: one local address, the services it is given.
//
// Threads: start and stop from one thread.
#pragma once

#include <grpcpp/grpcpp.h>
#include <grpcpp/impl/service_type.h>

#include <memory>
#include <string>
#include <vector>

#include "daemon/base/result.h"

namespace fairlead::desk {

class Server {
 public:
  /// Only loopback and Unix sockets (0600). Port 0 takes a free one. Errors: kDenied, kUnavailable
  /// when the address is taken.
  [[nodiscard]] static Result<std::unique_ptr<Server>> start(
      const std::string& address, std::vector<std::unique_ptr<grpc::Service>> services);
  /// Ends every call, then the services.
  ~Server();

  /// The address with the port in use.
  [[nodiscard]] const std::string& address() const { return address_; }

 private:
  Server() = default;
  std::vector<std::unique_ptr<grpc::Service>> services_;
  std::unique_ptr<grpc::Server> server_;
  std::string address_;
};

}  // namespace fairlead::desk
