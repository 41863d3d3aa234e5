// fairlead hold.
//
// Threads: one.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_hold(CLI::App& app);

}  // namespace fairlead::cli
