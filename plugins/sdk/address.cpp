#include "plugins/sdk/address.h"

#include <fmt/format.h>

#include <algorithm>

namespace fairlead::sdk {

std::string objection(const v1::PluginHello& hello, const v1::PluginWelcome& welcome) {
  if (welcome.wire_core() != hello.wire_core()) {
    return fmt::format("daemon speaks wire_core {}, this plugin {}; install matching versions",
                       welcome.wire_core(), hello.wire_core());
  }
  const auto& majors = hello.plugin_api();
  if (std::find(majors.begin(), majors.end(), welcome.plugin_api()) == majors.end()) {
    return fmt::format(
        "daemon picks plugin_api {}, which this plugin does not speak; install "
        "matching versions",
        welcome.plugin_api());
  }
  if (welcome.session_id() != hello.session_id()) {
    return "the daemon welcomes another session than this one";
  }
  return {};
}

}  // namespace fairlead::sdk
