// `fairlead watch`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_watch(CLI::App& app);

}  // namespace fairlead::cli
