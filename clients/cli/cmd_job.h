// `fairlead job`.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_job(CLI::App& app);

}  // namespace fairlead::cli
