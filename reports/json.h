// The reports' JSON: keys keep the order they were given in, so the same record gives the same
// bytes. Printed figures are strings, exactly as the page shows them; numbers are used only for the
// coordinates of charts.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

namespace fairlead::reports {

using Json = nlohmann::ordered_json;

/// ASCII only (other characters as \u escapes), two spaces of indent, one newline at the end.
[[nodiscard]] std::string json_bytes(const Json& json);

}  // namespace fairlead::reports
