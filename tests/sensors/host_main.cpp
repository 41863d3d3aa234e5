// A daemon that only supervises one plugin, to be killed by a test:
//   sensors_test_host RUNTIME_DIR PROGRAM SETTINGS
#include <fmt/format.h>
#include <unistd.h>

#include <atomic>
#include <cstdio>

#include "daemon/sensors/supervisor.h"

int main(int argc, char** argv) {
  using namespace fairlead;
  if (argc != 4) return 64;
  sensors::SupervisorOptions options;
  options.runtime_dir = argv[1];
  sensors::PluginSpec spec{.id = "a", .program = argv[2], .settings_toml = argv[3]};
  std::atomic<bool> sampled = false;
  auto supervisor = sensors::Supervisor::start(options, {spec}, [&](const v1::Observation& o) {
    if (o.has_sample() && !sampled.exchange(true)) {
      fmt::print("sample of {}\n", o.source());
      std::fflush(stdout);
    }
    return true;
  });
  if (!supervisor) {
    fmt::print("{}\n", supervisor.error().message);
    return 1;
  }
  int told = 0;
  while (true) {
    int pid = (*supervisor)->health().front().pid;
    if (pid != 0 && pid != told) {
      fmt::print("plugin is process {}\n", pid);
      std::fflush(stdout);
      told = pid;
    }
    usleep(20'000);
  }
}
