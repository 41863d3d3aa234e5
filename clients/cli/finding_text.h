// Findings as a person reads them: one a line where another program reads, wrapped under their
// rules' titles on a terminal.
//
// Threads: pure functions, but for terminal_width(), which asks the system.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/judge/finding.h"

namespace fairlead::cli {

/// Columns to wrap at: those of COLUMNS, else of the terminal; 0 where the output is neither on a
/// terminal nor COLUMNS set.
[[nodiscard]] size_t terminal_width();

/// `text` in lines of at most `width` characters, broken at blanks, each after `indent` blanks.
[[nodiscard]] std::string wrapped(std::string_view text, size_t indent, size_t width);

/// Verdict, rule and title on a line, then the sentence wrapped beneath.
[[nodiscard]] std::string finding_block(const judge::Finding& finding, size_t width);

/// "; procedure load 3.1 (a28c..)" of the sentence as a heading: "procedure load 3.1 (a28c..)".
[[nodiscard]] std::string procedure_heading(const judge::Finding& finding);

}  // namespace fairlead::cli
