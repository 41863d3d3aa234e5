// Where a plugin's acquisition loop puts what it reads. Everything here returns at once: the loop
// is never held up by the daemon.
//
// Threads: any. Units: values in the unit the channel declares; times microseconds.
#pragma once

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>

#include "fairlead/v1/plugin_service.pb.h"
#include "plugins/sdk/outbox.h"
#include "plugins/sdk/switches.h"

namespace fairlead::sdk {

/// Both clocks of this machine, read together.
struct Stamp {
  int64_t wall_us = 0;
  int64_t mono_us = 0;
};
[[nodiscard]] Stamp now();

class Feed {
 public:
  /// `max_readings`: about a minute of a fast plugin; see Outbox for what happens beyond.
  explicit Feed(size_t max_readings = 20'000) : outbox_(max_readings) {}

  /// A value. NaN or infinite becomes a gap mark: such a value never reaches the record.
  void sample(uint32_t channel, double value, Stamp at = now(),
              v1::Quality::Word quality = v1::Quality::GOOD);
  void fix(uint32_t channel, const v1::Fix& fix, Stamp at, std::optional<int64_t> device_us,
           v1::Quality::Word quality = v1::Quality::GOOD);
  /// Readings of the channel are missing from here until its next one. The same cause again before
  /// then is not said again (false), unless it counts what was lost.
  bool gap(uint32_t channel, std::string_view cause, std::optional<uint64_t> lost = {},
           Stamp at = now());
  void state(uint32_t channel, std::string_view words, Stamp at = now());

  /// Called by the acquisition loop once a turn, at least every 500 ms: the plugin's only sign of
  /// life. Never call it from a timer or another thread than the one that reads the instrument.
  void beat();

  /// True once the plugin has to end.
  [[nodiscard]] bool stopping() const { return stopping_.load(); }
  /// The next thing to switch, for a plugin with outputs: the loop takes them all each turn,
  /// carries them out and answers each with done(). Time limits and a lost daemon come as commands
  /// too.
  std::optional<v1::PluginCommand> take_command();
  /// `trouble`: why it could not be done; empty: it was.
  void done(const v1::PluginCommand& command, std::string_view trouble = {});

  /// Sleeps, but wakes when the plugin has to end or a command waits. True: end.
  bool wait(std::chrono::microseconds duration);
  void request_stop();

 private:
  friend class Client;
  void put(v1::PluginReading reading, Stamp at);
  void put_locked(v1::PluginReading reading, Stamp at);

  std::mutex mutex_;
  std::condition_variable changed_;
  Outbox outbox_;
  std::map<uint32_t, std::string> gaps_;  // Cause by channel, until its next reading.
  v1::PluginHeartbeat beat_;
  Switches switches_;
  std::deque<v1::PluginCommandDone> done_;  // Answers not sent yet; at most kMaxWaiting.
  std::atomic<bool> stopping_ = false;
};

}  // namespace fairlead::sdk
