// What the daemon tells the supervisor, and what it may ask it.
//
// Threads: values only.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <string>
#include <string_view>

#include "daemon/sensors/life.h"
#include "fairlead/v1/observation.pb.h"

namespace fairlead::sensors {

/// One plugin to run.
struct PluginSpec {
  /// Name in logs; its source in the record as long as it has not described channels of its own.
  std::string id;
  std::filesystem::path program;
  /// Handed to the plugin as it stands.
  std::string settings_toml;
  /// Missing: an entry as with any other, and the red light (kRedLight); never a refusal to record
  /// the rest.
  bool required = false;
};

/// Takes one observation for the recorder (seq 0: the recorder gives it). False = full: it is
/// offered again until taken, and the plugin's batch is not acked before. Called by one thread of
/// the supervisor's; may block shortly.
using Sink = std::function<bool(v1::Observation)>;
/// One line for the log, without newline. Called from the supervisor's threads.
using LogLine = std::function<void(std::string_view)>;

struct SupervisorOptions {
  /// For the socket and its lock; made with mode 0700, refused when others may enter. The path is
  /// short: with "/plugins.sock" at most 107 characters.
  std::filesystem::path runtime_dir;
  /// Id of this machine's wall clock in the observations.
  std::string clock = "truck";
  LogLine log;
  Limits limits;
  /// Each source says it is alive this often while its instrument is read.
  int64_t alive_every_us = 10'000'000;
};

/// The output that is kept on while a required plugin does not run or a channel of it is in a gap.
/// Whichever plugin has an output of that name switches it; without one only health() says so.
inline constexpr std::string_view kRedLight = "red_light";

/// One plugin as it stands.
struct Health {
  std::string id;
  bool required = false;
  State state = State::kIdle;
  int pid = 0;  // 0: no process.
  int64_t starts = 0;
  int channels_down = 0;  // In a gap at present.
  std::string trouble;    // Why it is missing; empty: it is not, or has only just been started.

  [[nodiscard]] bool missing() const { return state != State::kLive || channels_down > 0; }
};

}  // namespace fairlead::sensors
