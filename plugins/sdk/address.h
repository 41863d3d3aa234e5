// Where a plugin finds its daemon, and why the two may not go on together.
//
// Threads: values and pure functions.
#pragma once

#include <string>

#include "fairlead/v1/plugin_service.pb.h"

namespace fairlead::sdk {

/// Exactly one of the two.
struct Address {
  std::string socket_path;
  int fd = -1;
};

/// What is wrong with the daemon's answer to this hello; empty: nothing.
[[nodiscard]] std::string objection(const v1::PluginHello& hello, const v1::PluginWelcome& welcome);

}  // namespace fairlead::sdk
