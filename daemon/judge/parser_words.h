// What the text format's parser says of a file, in words that say what to do. It names places in
// bytes, with tabs eight wide, and rarely the field: both are read off the file.
//
// Threads: pure functions.
#pragma once

#include <google/protobuf/descriptor.h>

#include <string>
#include <string_view>

namespace fairlead::judge {

/// Column of a character, from 0, of the parser's column in that line (from 0) of the file.
[[nodiscard]] int character_column(std::string_view file, int line, int parser_column);

/// The parser's message about this place (its own line and column, from 0), with the remedy.
/// `root`: the kind of message the file holds.
[[nodiscard]] std::string with_remedy(const std::string& message, std::string_view file, int line,
                                      int parser_column, const google::protobuf::Descriptor* root);

}  // namespace fairlead::judge
