// `fairlead plan`: the question before the job, offline on a register folder.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_plan(CLI::App& app);

}  // namespace fairlead::cli
