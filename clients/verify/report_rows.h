// A claim report's JSON against findings: its table of findings must hold one row a finding, and
// each row the finding's own rule, procedure, applicability and verdict.
//
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/judge/finding.h"

namespace fairlead::verifier {

/// One sentence a difference; empty when the table says the same. Reads "findings": {"rows":
/// [{"rule", "procedure", "applies", "verdict", "outside"}]}; a report without that table differs.
[[nodiscard]] std::vector<std::string> report_differences(std::string_view report_json,
                                                          std::span<const judge::Finding> findings);

/// "findings": {"meaning": N}; a report from before it was written there is of meaning 1.
[[nodiscard]] uint32_t report_meaning(std::string_view report_json);

}  // namespace fairlead::verifier
