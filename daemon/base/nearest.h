// The nearest known name to a mistyped one, for messages that say what was meant.
//
// Threads: pure functions.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace fairlead {

/// Single-character edits (insert, delete, replace) between two names.
[[nodiscard]] size_t edit_distance(std::string_view a, std::string_view b);

/// The name with the fewest edits, the first of equals; empty when there are no names or when
/// nothing of the word would be left.
[[nodiscard]] std::string nearest(std::string_view word, std::span<const std::string_view> words);

/// What to say of an unknown word: "the nearest is 'x'" where one is really near (few edits for its
/// length, or `word` is one of its parts); else "one of a, b, c" of a short list; else "".
[[nodiscard]] std::string suggestion(std::string_view word,
                                     std::span<const std::string_view> words);

}  // namespace fairlead
