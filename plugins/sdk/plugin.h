// A whole plugin in one call. A plugin implements two functions and main() is one line:
//
//   class Scale : public fairlead::sdk::Plugin { ... };
//   int main(int argc, char** argv) { Scale s; return fairlead::sdk::run_plugin(argc, argv,
//   {"scale", "1.0"}, s); }
//
// Command line (given by the daemon): --socket PATH or --fd N, --session ID, --parent PID.
// For people: --check-config FILE reads a configuration, prints what is wrong and ends.
// Exit codes: 0 asked to stop, 64 wrong command line, 69 no daemon any more, 77 refused by the
// daemon, 78 configuration refused.
#pragma once

#include <string>
#include <vector>

#include "fairlead/v1/plugin_service.pb.h"
#include "plugins/sdk/config.h"
#include "plugins/sdk/feed.h"

namespace fairlead::sdk {

struct PluginInfo {
  std::string name;
  std::string version;
};

class Plugin {
 public:
  virtual ~Plugin() = default;

  /// Reads the configuration, touches no device. Fills `channels` and returns no problems, or
  /// returns every problem. Called once, before run().
  virtual Problems configure(const std::string& toml, std::vector<v1::PluginChannel>& channels) = 0;

  /// What the plugin can switch under that configuration. A plugin that has any takes the feed's
  /// commands in run(), and switches all off before run() returns.
  virtual std::vector<v1::PluginOutput> outputs() const { return {}; }

  /// The acquisition loop: reads, feeds, beats, until feed.stopping(). A device that is gone is a
  /// gap and another try, never a return.
  virtual void run(Feed& feed) = 0;
};

/// Runs the plugin until it is told to stop or nobody is there to listen. Returns the exit code.
/// Ends with its parent: on the parent's death the kernel sends SIGTERM, and a stream that stays
/// broken ends it as well.
int run_plugin(int argc, char** argv, const PluginInfo& info, Plugin& plugin);

}  // namespace fairlead::sdk
