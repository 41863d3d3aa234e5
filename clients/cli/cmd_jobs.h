// `fairlead jobs`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_jobs(CLI::App& app);

}  // namespace fairlead::cli
