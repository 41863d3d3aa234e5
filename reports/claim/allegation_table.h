// The allegation table: read from protobuf text, checked whole before use.
//
// Threads: a table is immutable once read.
#pragma once

#include <string>
#include <string_view>

#include "daemon/base/result.h"
#include "fairlead/v1/allegation.pb.h"

namespace fairlead::reports {

struct AllegationTable {
  v1::AllegationTable rows;
  std::string sha256;  // Of the file's raw bytes.
};

/// Reads a table. `name` stands in front of errors. Errors: kBadInput with every problem found, one
/// a line: "NAME:LINE:COLUMN: what; what to do" for form, "NAME: kind ID: ..." for meaning.
[[nodiscard]] Result<AllegationTable> read_allegation_table(std::string_view text,
                                                            const std::string& name);

/// The shipped table. Errors: kInternal only (it is checked by a test).
[[nodiscard]] Result<AllegationTable> shipped_allegation_table();

/// Row of a kind. Errors: kBadInput naming all kinds there are.
[[nodiscard]] Result<const v1::AllegationKind*> find_kind(const AllegationTable& table,
                                                          const std::string& id);

/// The kind whose words occur most often in a claimant's text; null when none does.
[[nodiscard]] const v1::AllegationKind* guess_kind(const AllegationTable& table,
                                                   std::string_view words);

/// Calls `found(inside)` for each {placeholder} of a text. Returns false for an unclosed brace.
template <typename Found>
bool each_placeholder(std::string_view text, const Found& found) {
  for (size_t at = text.find('{'); at != std::string_view::npos; at = text.find('{', at)) {
    const size_t end = text.find('}', at);
    if (end == std::string_view::npos) return false;
    found(text.substr(at + 1, end - at - 1));
    at = end + 1;
  }
  return true;
}

}  // namespace fairlead::reports
