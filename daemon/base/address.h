// Addresses the daemon listens on or dials. Without TLS only this machine may be at the other end.
//
// Threads: pure functions.
#pragma once

#include <string>
#include <string_view>

#include "daemon/base/result.h"

namespace fairlead {

/// HOST:PORT, [IPV6]:PORT or unix:/path. Errors: kBadInput.
[[nodiscard]] Status check_address(std::string_view address);

/// An address that cannot leave this machine: a Unix socket path, or a loopback host and port.
/// Errors: kDenied for any other host, kBadInput for a malformed one.
[[nodiscard]] Status check_local_address(std::string_view address);

/// "unix:/path" has its path checked for the 107 characters that a socket name may have.
[[nodiscard]] bool is_unix_address(std::string_view address);

}  // namespace fairlead
