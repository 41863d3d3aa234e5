// fairleadd: the daemon, a base or a truck.
#include <google/protobuf/stubs/logging.h>

#include <CLI/CLI.hpp>
#include <csignal>
#include <ctime>
#include <iostream>

#include "daemon/base/key_file.h"
#include "daemon/log_line.h"
#include "daemon/role.h"
#include "daemon/watch/generation.h"

namespace {

using fairlead::Code;

constexpr int kExitBadInput = 3, kExitFailed = 4;

// Signals are taken here and nowhere else; every thread inherits the mask.
sigset_t block_signals() {
  sigset_t set;
  sigemptyset(&set);
  sigaddset(&set, SIGINT);
  sigaddset(&set, SIGTERM);
  pthread_sigmask(SIG_BLOCK, &set, nullptr);
  std::signal(SIGPIPE, SIG_IGN);
  return set;
}

int run(const fairlead::Config& config) {
  const sigset_t signals = block_signals();
  auto role = config.role == fairlead::Role::kBase ? fairlead::start_base(config)
                                                   : fairlead::start_truck(config);
  if (!role) {
    fairlead::log_line(role.error().message);
    return role.error().code == Code::kBadInput || role.error().code == Code::kDenied
               ? kExitBadInput
               : kExitFailed;
  }
  for (;;) {
    const timespec look{0, 100'000'000};
    if (sigtimedwait(&signals, nullptr, &look) > 0) break;
    if (const std::string words = (*role)->failure(); !words.empty()) {
      fairlead::log_line("stopping: " + words);
      return kExitFailed;
    }
  }
  fairlead::log_line("stopping");
  role->reset();
  return 0;
}

int declare_generation(const fairlead::Config& config, const std::string& cause,
                       const std::string& last_head_file) {
  constexpr size_t kLongestHead = 16 * 1024;
  auto head = last_head_file.empty() ? fairlead::Result<std::string>("")
                                     : fairlead::read_small_file(last_head_file, kLongestHead);
  auto made = head ? fairlead::watch::declare_generation(config.data, cause, *head)
                   : std::unexpected(head.error());
  if (!made) {
    fairlead::log_line(made.error().message);
    return made.error().code == Code::kBadInput || made.error().code == Code::kNotFound
               ? kExitBadInput
               : kExitFailed;
  }
  std::cout << "generation " << made->origin << " begins at entry " << made->leaf << "\nkept "
            << made->kept_size << " signed entries; the last head anybody knows had "
            << made->last_size << "\nlog " << made->log_key << "\nroster "
            << made->roster_fingerprint
            << "\nGive both to whoever verifies: their policy must name them.\n";
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  // Bytes that do not parse are refused in our own words; the library would fill the log with them.
  google::protobuf::SetLogHandler(nullptr);
  CLI::App app{
      "Fairlead's daemon: a base (the owner's ledger and desk) or a truck (its recorder)."};
  app.footer(
      "Examples:\n  fairleadd\n      a base on 127.0.0.1:7400 with its ledger in ./fairlead-data\n"
      "  fairleadd --config truck.toml\n  fairleadd --print-config > base.toml\n\n"
      "Exit: 0 stopped by a signal, 3 settings or address refused, 4 failed.");
  std::string file;
  bool print = false, alone = false;
  std::string cause, last_head;
  app.add_option("--config", file, "Settings (TOML)");
  app.add_flag("--print-config", print,
               "Print a commented settings file with every default, and end");
  app.add_flag("--alone", alone,
               "Base: sign at once, although no truck or countersigner has shown that this disk is "
               "the newest; recorded");
  auto* declare = app.add_option(
      "--new-generation", cause,
      "Base, stopped: declare the next generation of its ledger after its disk was put back, or to "
      "change its log key; say why. Needs keys/root.key");
  app.add_option("--last-head", last_head,
                 "With --new-generation: file with the newest head the countersigner holds")
      ->needs(declare);
  CLI11_PARSE(app, argc, argv);
  if (print) {
    std::cout << fairlead::sample_config();
    return 0;
  }
  auto config = file.empty() ? fairlead::Result<fairlead::Config>(fairlead::default_config())
                             : fairlead::load_config(file);
  if (!config) {
    fairlead::log_line(config.error().message);
    return kExitBadInput;
  }
  if (!cause.empty()) return declare_generation(*config, cause, last_head);
  config->alone = alone;
  return run(*config);
}
