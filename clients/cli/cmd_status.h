// `fairlead status`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_status(CLI::App& app);

}  // namespace fairlead::cli
