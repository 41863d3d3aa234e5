// The daemon's gRPC server: the addresses it listens on, the services it is given.
//
// Without certificates only loopback and Unix sockets. With them the address is open to mutual TLS
// 1.3 only, every call is held against the table of access.h, and callers on this machine have a
// Unix socket beside it.
// Threads: start and stop from one thread.
#pragma once

#include <grpcpp/grpcpp.h>
#include <grpcpp/impl/service_type.h>

#include <memory>
#include <string>
#include <vector>

#include "daemon/base/revoked.h"
#include "daemon/base/tls_files.h"

namespace fairlead::desk {

struct ListenOptions {
  std::string address;
  /// Null: no TLS.
  std::shared_ptr<const TlsFiles> tls;
  /// With TLS: where callers on this machine come in, "unix:/path"; empty: nowhere.
  std::string local_address;
  /// With TLS: whose certificate counts no longer, asked at every call. Null: nobody's.
  std::shared_ptr<RevokedCertificates> revoked = {};
};

class Server {
 public:
  /// Unix sockets are made 0600; port 0 takes a free one. Errors: kDenied, kUnavailable when the
  /// address is taken.
  [[nodiscard]] static Result<std::unique_ptr<Server>> start(
      const ListenOptions& options, std::vector<std::unique_ptr<grpc::Service>> services);
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
