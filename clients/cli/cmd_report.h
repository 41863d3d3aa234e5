// `fairlead report`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_report(CLI::App& app);

}  // namespace fairlead::cli
