// Runs one of our built-in Python scripts in a child process: what is laid out or decoded there may
// be hostile, and neither a crash nor a hang of it reaches us. The script gets `input` on its
// standard input and answers on its standard output.
//
// Threads: may run in parallel; each starts its own child. Errors: kUnavailable when Python or a
// package is missing or the time is over, kInternal when the script fails.
#pragma once

#include <chrono>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/result.h"

namespace fairlead::reports {

struct PythonTask {
  std::string script;   // Name of a built-in file.
  std::string package;  // Debian package it needs, for the error.
  std::vector<std::string> arguments = {};
  std::vector<std::string> environment = {};  // Beside the fixed one.
  std::chrono::seconds timeout{120};
};

[[nodiscard]] Result<std::string> run_python(const PythonTask& task, std::string_view input);

}  // namespace fairlead::reports
