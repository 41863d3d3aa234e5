// One of several commands under a common name: `fairlead hold list`, `fairlead hold add`.
//
// Threads: one.
#pragma once

#include <memory>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"

namespace fairlead::cli {

/// Adds it with --json and --base, which `Arguments` keeps as `json` and `base`; `call` runs it and
/// gives the exit code.
template <typename Arguments>
CLI::App* part(CLI::App* parent, const std::shared_ptr<Arguments>& a, const char* name,
               const char* words, int (*call)(const Arguments&)) {
  CLI::App* command = parent->add_subcommand(name, words);
  command->add_flag("--json", a->json, "One JSON object");
  add_base_option(command, a->base);
  command->callback([a, call] { end_with(call(*a)); });
  return command;
}

}  // namespace fairlead::cli
