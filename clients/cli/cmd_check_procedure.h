// `fairlead check-procedure`: reads procedure files and says everything that is wrong with them.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_check_procedure(CLI::App& app);

}  // namespace fairlead::cli
