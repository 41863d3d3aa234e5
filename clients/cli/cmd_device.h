// `fairlead device`: trucks that exist twice.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_device(CLI::App& app);

}  // namespace fairlead::cli
