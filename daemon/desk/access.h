// Who may call what: one table for every method of every service. What is not in it is denied.
//
//   owner-local  a caller on this machine, through a Unix socket or loopback without TLS
//   owner        sees and does everything the desk offers
//   operator     jobs it opened, and pictures for them
//   truck        appends to its own chain, nothing else
//   insurer      heads, proofs, countersigning, the list of summaries
//   service      a program of the owner's: heads, proofs, countersigning, summaries
// Two roles are narrowed further where the call is served: an operator sees only jobs whose
// operator it is, a truck only its own chain.
// Threads: pure functions.
#pragma once

#include <string_view>
#include <vector>

#include "daemon/base/identity.h"

namespace fairlead::desk {

struct AccessRow {
  /// "JobsService/GetJob".
  std::string_view method;
  std::vector<PeerRole> roles;
};

[[nodiscard]] const std::vector<AccessRow>& access_table();

/// `path` as gRPC has it, "/fairlead.v1.JobsService/GetJob".
[[nodiscard]] bool may_call(PeerRole role, std::string_view path);

}  // namespace fairlead::desk
