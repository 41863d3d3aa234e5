// What the daemon wants of a plugin's outputs (buzzer, lamp): commands in, in order; after a time
// limit or without a daemon every output that is on gets a command of our own to go off.
//
// Threads: one at a time (Feed locks). Units: CLOCK_MONOTONIC in microseconds.
#pragma once

#include <cstdint>
#include <deque>
#include <map>
#include <optional>
#include <string>

#include "fairlead/v1/plugin_service.pb.h"

namespace fairlead::sdk {

class Switches {
 public:
  static constexpr size_t kMaxWaiting = 64;

  /// False: too many are waiting; this one is not taken.
  bool command(const v1::PluginCommand& command);
  /// Nobody would say off any more: everything that is on, or about to be, goes off.
  void lost_daemon();
  /// The next to carry out. command_seq 0: our own, nobody waits for an answer.
  std::optional<v1::PluginCommand> take(int64_t now_us);
  /// True when take() would give one now.
  [[nodiscard]] bool due(int64_t now_us) const;
  /// When the next output goes off by itself.
  [[nodiscard]] std::optional<int64_t> next_off_us() const;

 private:
  std::deque<v1::PluginCommand> waiting_;
  std::map<std::string, int64_t> off_at_us_;  // What is on; INT64_MAX: until told.
};

}  // namespace fairlead::sdk
