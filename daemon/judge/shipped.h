// The procedures that ship with this build, byte for byte as they stand in procedures/.
//
// Threads: constants.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/judge/judge.h"

namespace fairlead::judge {

/// Ids of all shipped procedures, sorted.
[[nodiscard]] std::vector<std::string> shipped_procedure_ids();
/// The file of that id, named "ID.textproto"; nullopt when none ships.
[[nodiscard]] std::optional<SourceFile> shipped_procedure(std::string_view id);

}  // namespace fairlead::judge
