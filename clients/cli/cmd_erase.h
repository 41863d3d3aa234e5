// fairlead erase.
//
// Threads: one.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_erase(CLI::App& app);

}  // namespace fairlead::cli
