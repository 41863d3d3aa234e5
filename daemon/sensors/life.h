// The life of one plugin process as a state machine: events in, what to do out. No clock, no
// process, no stream here; times are the caller's CLOCK_MONOTONIC in microseconds.
//
//   Idle -> Starting -> Live <-> Stale        any running state -> Stopping -> Backoff -> Starting
//
// It never gives up: back-off doubles from 0.5 s to 10 s and starts over after 60 s of health.
//
// Threads: one at a time.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace fairlead::sensors {

enum class State { kIdle, kStarting, kLive, kStale, kStopping, kBackoff };

enum class Event {
  kStart,         // The daemon wants it running.
  kSpawnFailed,   // No process came of it.
  kDescribed,     // Handshake done: channels are known.
  kBeat,          // The acquisition loop turned.
  kStreamBroken,  // The stream ended; the process may dial again.
  kBreach,        // It broke the contract, or refused its configuration.
  kExited,        // The process is gone.
  kStop,          // The daemon ends.
  kTick,          // Time has passed.
};

struct Limits {
  int64_t start_within_us = 5'000'000;  // Spawn to described.
  // Without a heartbeat. With what the plugin (a quarter of heartbeat_ms), the supervisor's turn
  // and the recorder's packing add, the gap is on record within 2 s.
  int64_t stale_after_us = 1'500'000;
  int64_t kill_stale_us = 5'000'000;  // Stale this long: stopped and started anew.
  int64_t term_grace_us = 2'000'000;  // SIGTERM to SIGKILL.
  int64_t backoff_first_us = 500'000;
  int64_t backoff_longest_us = 10'000'000;
  int64_t healthy_after_us = 60'000'000;  // Live this long: back-off starts over.
  // What one plugin may take of the machine (usage.h).
  int64_t most_rss_kib = 128 * 1024;
  double most_cpu_share = 0.5;  // Of one core, for three looks of half a second.
  int64_t most_open_files = 128;
  double most_readings_s = 2'000;  // As long.
};

/// What the caller has to do now. `gap` empty: no gap to mark.
struct Orders {
  bool spawn = false;
  bool terminate = false;  // SIGTERM to the group.
  bool kill = false;       // SIGKILL to the group.
  bool tell_live = false;  // Say "live" for each channel.
  std::string gap{};       // Say that readings are missing, and why.
};

class Life {
 public:
  explicit Life(Limits limits = {}) : limits_(limits) {}

  /// `detail`: words for the gap's cause where the event has any (exit status, breach).
  Orders on(Event event, int64_t now_us, std::string_view detail = {});

  [[nodiscard]] State state() const { return state_; }
  /// Spawns so far.
  [[nodiscard]] int64_t starts() const { return starts_; }
  /// Wait before the next start, were it to fall now.
  [[nodiscard]] int64_t backoff_us() const { return backoff_us_; }

 private:
  Orders enter_starting(int64_t now_us);
  Orders enter_stopping(int64_t now_us, std::string gap);
  Orders enter_backoff(int64_t now_us, std::string gap);
  Orders on_starting(Event event, int64_t now_us, std::string_view detail);
  Orders on_live(Event event, int64_t now_us, std::string_view detail);
  Orders on_stale(Event event, int64_t now_us, std::string_view detail);
  Orders on_stopping(Event event, int64_t now_us);
  Orders on_backoff(Event event, int64_t now_us);

  Limits limits_;
  State state_ = State::kIdle;
  bool stop_wanted_ = false;
  int64_t due_us_ = 0;         // When the present state has lasted too long.
  int64_t live_since_us_ = 0;  // For the health that resets the back-off.
  int64_t backoff_us_ = 0;
  int64_t starts_ = 0;
};

[[nodiscard]] std::string_view state_name(State state);

}  // namespace fairlead::sensors
