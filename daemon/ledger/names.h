// Which attachments and cards a body names, without reading its message: a field of that many
// lower-case hex digits behind its length byte. May find more than the message means, never less,
// so what it decides errs on the side of keeping.
//
// Threads: pure functions.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/crypto.h"

namespace fairlead::ledger {

/// SHA-256 of photos, films, signatures and the like.
[[nodiscard]] std::vector<Hash> attachments_in(std::string_view body);
/// Ids of cards, 32 hex digits.
[[nodiscard]] std::vector<std::string> cards_in(std::string_view body);

}  // namespace fairlead::ledger
