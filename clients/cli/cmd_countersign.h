// `fairlead countersign`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_countersign(CLI::App& app);

}  // namespace fairlead::cli
