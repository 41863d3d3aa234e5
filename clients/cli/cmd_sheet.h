// `fairlead sheet`: the job sheet.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_sheet(CLI::App& app);

}  // namespace fairlead::cli
