// Names behind card ids.
//
// Threads: as Desk.
#pragma once

#include <map>
#include <string>

#include "daemon/desk/desk.h"

namespace fairlead::desk {

/// Card id (32 hex characters) to what it names; erased cards are absent.
[[nodiscard]] Result<std::map<std::string, std::string>> card_names(const Desk& desk);

}  // namespace fairlead::desk
