// `fairlead schedule`: summaries that go out by themselves.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_schedule(CLI::App& app);

}  // namespace fairlead::cli
