// Shared by the note and key readers: which texts and names are allowed, and how to quote them.
//
// Threads: pure functions.
#pragma once

#include <string>
#include <string_view>

namespace fairlead::record {

/// 1 to 255 visible ASCII characters without space or '+'.
[[nodiscard]] bool is_note_key_name(std::string_view name);

/// A piece of hostile text for an error message: short, on one line, visible ASCII only.
[[nodiscard]] std::string ascii_of(std::string_view text);

/// UTF-8, not empty, ends in a newline, no control character but newline.
[[nodiscard]] bool is_note_text(std::string_view text);

}  // namespace fairlead::record
