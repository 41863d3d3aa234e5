// fairlead audit.
//
// Threads: one.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_audit(CLI::App& app);

}  // namespace fairlead::cli
