// `fairlead claim`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_claim(CLI::App& app);
/// The commands after `open`, `show`, `list` and `kinds`.
void add_claim_steps(CLI::App& group);

}  // namespace fairlead::cli
