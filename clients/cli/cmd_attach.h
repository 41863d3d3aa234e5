// `fairlead attach`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_attach(CLI::App& app);

}  // namespace fairlead::cli
