// `fairlead register`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_register(CLI::App& app);

}  // namespace fairlead::cli
