// What the texts inside an observation must look like: tokens, hashes, times, closed word lists.
//
// Threads: pure functions.
#pragma once

#include <google/protobuf/descriptor.h>

#include <span>
#include <string>
#include <string_view>

#include "daemon/base/result.h"

namespace fairlead::record {

constexpr size_t kLongestText = 10'000;  // Unicode code points.
constexpr size_t kLongestToken = 64;     // Bytes.

/// An enum value as lines spell it: as in the .proto, without the prefix that only keeps words of
/// one message apart (PLACE_OTHER reads OTHER where the enum's zero is PLACE_UNSET).
[[nodiscard]] std::string_view enum_word(const google::protobuf::EnumValueDescriptor& value);

/// Number of the word in the enum. Errors: kBadInput, "what; what to do", with the nearest word.
/// The zero word is never valid.
[[nodiscard]] Result<int> enum_number(const google::protobuf::EnumDescriptor& words,
                                      std::string_view word);

/// Checks one string field's text by what the field means. Errors: kBadInput, "what; what to do".
[[nodiscard]] Status check_text(const google::protobuf::FieldDescriptor& field,
                                std::string_view text);

/// A photo's view: one of view_names(), or point:ID, wheel:LF, spot:WORDS. Errors: kBadInput with
/// the list and the nearest.
[[nodiscard]] Status check_view(std::string_view text);
[[nodiscard]] std::span<const std::string_view> view_names();

/// "; the nearest is 'x'" or "", for the end of an error's words.
[[nodiscard]] std::string nearest_hint(std::string_view word,
                                       std::span<const std::string_view> words);

/// `text` cut to a printable length for an error message, control characters replaced.
[[nodiscard]] std::string shown(std::string_view text);

}  // namespace fairlead::record
