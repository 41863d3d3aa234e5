// What a reader of an HTML page sees, for tests: text without tags, styles and scripts.
#pragma once

#include <set>
#include <string>

#include "reports/json.h"

namespace fairlead::reports {

/// Text between tags, entities resolved; style elements, base64 pictures and attributes left out,
/// but alt and aria-label kept, since a screen reader prints them.
[[nodiscard]] std::string visible_text(const std::string& html);

/// Runs of digits with inner '.', ',', ':' and '-' between digits: "14.2", "09:12:00", "48,302".
[[nodiscard]] std::set<std::string> figures_in(const std::string& text);

/// All strings of a JSON, one a line.
[[nodiscard]] std::string all_strings(const Json& json);

}  // namespace fairlead::reports
