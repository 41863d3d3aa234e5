// A gRPC channel to a base: plain on this machine, mutual TLS 1.3 to anywhere else. The base is
// known by its name in the certificate its own authority issued, wherever it is dialled.
//
// Threads: any; TLS files are those of load_tls_files.
#pragma once

#include <grpcpp/grpcpp.h>

#include <memory>
#include <string>

#include "daemon/base/tls_files.h"

namespace fairlead::uplink {

/// `tls` null, or a unix: address: without TLS.
[[nodiscard]] std::shared_ptr<grpc::Channel> channel_to(const std::string& address,
                                                        const TlsFiles* tls,
                                                        grpc::ChannelArguments arguments);

}  // namespace fairlead::uplink
