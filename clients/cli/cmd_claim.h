// `fairlead claim`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_claim(CLI::App& app);

}  // namespace fairlead::cli
