// Dials a base over gRPC.
//
// Threads: as Pipe; a call from another thread to cancel is not offered, a broken connection ends
// by itself within seconds.
#pragma once

#include <memory>
#include <string>

#include "daemon/base/tls_files.h"
#include "daemon/uplink/pipe.h"

namespace fairlead::uplink {

/// Starts a stream to "127.0.0.1:7400" or "unix:/path", with `tls` to any HOST:PORT; whether
/// anybody answers shows at receive().
[[nodiscard]] std::unique_ptr<Pipe> dial(const std::string& address, const TlsFiles* tls = nullptr);

}  // namespace fairlead::uplink
