// `fairlead ledger`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_ledger(CLI::App& app);

}  // namespace fairlead::cli
