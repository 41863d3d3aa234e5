// Addresses the daemon may listen on. Until transport keys exist, only this machine can reach it.
//
// Threads: pure functions.
#pragma once

#include <string>
#include <string_view>

#include "daemon/base/result.h"

namespace fairlead {

/// An address that cannot leave this machine: a Unix socket path, or a loopback host and port.
/// Errors: kDenied for any other host, kBadInput for a malformed one.
[[nodiscard]] Status check_local_address(std::string_view address);

/// "unix:/path" has its path checked for the 107 characters that a socket name may have.
[[nodiscard]] bool is_unix_address(std::string_view address);

}  // namespace fairlead
