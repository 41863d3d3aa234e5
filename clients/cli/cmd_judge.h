// `fairlead judge`: judges a file of observation lines offline.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_judge(CLI::App& app);

}  // namespace fairlead::cli
