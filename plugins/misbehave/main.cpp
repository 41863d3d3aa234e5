// The plugin that misbehaves on demand: for the tests of the daemon and of the conformance kit.
//   fairlead-plugin-misbehave --socket PATH --session ID [--parent PID] [--misbehave WORD]
//   fairlead-plugin-misbehave --list
#include <fmt/format.h>
#include <signal.h>
#include <sys/prctl.h>
#include <unistd.h>

#include <charconv>
#include <cstdio>
#include <string>
#include <string_view>

#include "plugins/misbehave/actor.h"

int main(int argc, char** argv) {
  using namespace fairlead;
  sdk::Address address;
  std::string session;
  misbehave::Settings settings;
  for (int i = 1; i < argc; ++i) {
    std::string_view name = argv[i];
    if (name == "--list") {
      for (const auto& w : misbehave::words()) fmt::print("{:15} {}\n", w.word, w.what);
      return 0;
    }
    if (i + 1 >= argc) return 64;
    std::string_view value = argv[++i];
    if (name == "--socket") address.socket_path = value;
    if (name == "--fd") std::from_chars(value.data(), value.data() + value.size(), address.fd);
    if (name == "--session") session = value;
    if (name == "--parent") prctl(PR_SET_PDEATHSIG, SIGTERM);
    if (name == "--misbehave") {
      auto fault = misbehave::fault_of(value);
      if (!fault) {
        fmt::print(stderr, "--misbehave: \"{}\" is none of its words; see --list\n", value);
        return 64;
      }
      settings.fault = *fault;
    }
  }
  if (session.empty() || (address.socket_path.empty() && address.fd < 0)) {
    fmt::print(stderr, "give --session ID and --socket PATH or --fd N, or --list\n");
    return 64;
  }
  signal(SIGPIPE, SIG_IGN);
  misbehave::watch_for_the_end();
  return misbehave::Actor(address, session, settings).run();
}
