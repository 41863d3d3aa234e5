// Who is calling, from the certificate of the connection.
//
// Threads: any.
#pragma once

#include <grpcpp/grpcpp.h>

#include "daemon/base/identity.h"

namespace fairlead::intake {

/// Without TLS the caller is on this machine: the owner-local. Errors: kDenied when the
/// certificate's name is not one of ours.
[[nodiscard]] Result<Identity> peer_of(const grpc::AuthContext& connection);

/// The caller's certificate, PEM; empty without TLS.
[[nodiscard]] std::string certificate_of(const grpc::AuthContext& connection);

}  // namespace fairlead::intake
