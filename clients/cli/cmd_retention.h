// fairlead retention.
//
// Threads: one.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_retention(CLI::App& app);

}  // namespace fairlead::cli
