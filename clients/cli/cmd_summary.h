// `fairlead summary`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_summary(CLI::App& app);

}  // namespace fairlead::cli
