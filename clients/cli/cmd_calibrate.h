// `fairlead calibrate`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_calibrate(CLI::App& app);

}  // namespace fairlead::cli
