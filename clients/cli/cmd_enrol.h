// `fairlead enrol`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_enrol(CLI::App& app);

}  // namespace fairlead::cli
