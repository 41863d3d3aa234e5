// Who is at the other end of a connection: a role and an id, as a certificate's URI name says it.
//
//   fairlead://BASE/ROLE/ID      BASE: name of the base whose authority issued it
//                                ROLE: base, owner, operator, truck, insurer, service
//                                ID: of a truck the 32 hex characters of its device id; of an
//                                operator the card its jobs name; of others a name
// A caller without a certificate can only be on this machine (a Unix socket or loopback) and is the
// owner-local.
// Threads: pure functions.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "daemon/base/result.h"

namespace fairlead {

enum class PeerRole { kOwnerLocal, kBase, kOwner, kOperator, kTruck, kInsurer, kService };

struct Identity {
  PeerRole role = PeerRole::kOwnerLocal;
  std::string base;
  std::string id;
  bool operator==(const Identity&) const = default;
};

/// "owner-local", "truck", ...
[[nodiscard]] std::string_view role_word(PeerRole role);
/// A role a certificate can carry: every one but owner-local.
[[nodiscard]] std::optional<PeerRole> role_of_word(std::string_view word);

/// Letters, digits, '-', '.', '_'; 1 to 64 of them.
[[nodiscard]] bool is_identity_name(std::string_view text);

[[nodiscard]] std::string format_identity(const Identity& identity);
/// Errors: kBadInput for anything but the one spelling format_identity writes.
[[nodiscard]] Result<Identity> parse_identity(std::string_view uri);

/// The name a base's own certificate carries for its callers to check, whatever its address is.
[[nodiscard]] std::string server_name_of(std::string_view base);

}  // namespace fairlead
