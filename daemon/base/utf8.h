// Unicode text as it arrives from outside: is it valid UTF-8, and how long is it for a reader.
//
// Threads: pure functions.
#pragma once

#include <cstddef>
#include <optional>
#include <string_view>

namespace fairlead {

/// Number of Unicode code points, or nullopt when `text` is not valid UTF-8 (RFC 3629: no overlong
/// forms, no surrogates, nothing above U+10FFFF).
[[nodiscard]] std::optional<size_t> code_points(std::string_view text);

}  // namespace fairlead
