// `fairlead feed`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_feed(CLI::App& app);

}  // namespace fairlead::cli
