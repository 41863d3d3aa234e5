// `fairlead watch sensors`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_watch_sensors(CLI::App* watch);

}  // namespace fairlead::cli
