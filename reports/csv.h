// One field of a CSV file as RFC 4180 wants it.
//
// Threads: pure function.
#pragma once

#include <string>

namespace fairlead::reports {

/// Quotes doubled; a field with comma, quote or line end in quotes. A leading = + - @, tab or line
/// end gets a quote mark in front, so that no spreadsheet takes text for a formula; a plain number
/// keeps its sign.
[[nodiscard]] std::string csv_field(std::string text);

}  // namespace fairlead::reports
