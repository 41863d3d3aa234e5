// `fairlead register due` and `export`: the register as text files, what of it counts on a day, and
// the files in force written into a folder.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

/// Adds both under `register`.
void add_register_text(CLI::App* command);

}  // namespace fairlead::cli
