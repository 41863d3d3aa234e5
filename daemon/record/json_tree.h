// JSON text as a tree, with what the library itself lets pass refused: the same key twice, nesting
// and key counts beyond any honest line.
//
// Threads: pure function. Third-party exceptions end here.
#pragma once

#include <nlohmann/json.hpp>
#include <string_view>

#include "daemon/base/result.h"

namespace fairlead::record {

/// Keys stay in the order of the text, so that the first problem of a line is the one reported.
using JsonTree = nlohmann::ordered_json;

/// Errors: kBadInput, "line: what; what to do" or "KEY: stands twice...".
[[nodiscard]] Result<JsonTree> json_tree(std::string_view text);

}  // namespace fairlead::record
