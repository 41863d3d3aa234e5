// The daemon's side of one plugin's conversation: who may speak, in which order, what is a breach.
// Knows no gRPC: a stream is a Link, and what it learns goes out as events.
//
// Threads: any; every method locks. Callbacks are called without the lock held.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/result.h"
#include "daemon/sensors/inbox.h"
#include "daemon/sensors/life.h"
#include "fairlead/v1/plugin_service.pb.h"

namespace fairlead::sensors {

inline constexpr uint32_t kWireCore = 1;
inline constexpr uint32_t kPluginApi = 1;

/// One stream as the session sees it. Calls are safe at any time, also after it broke.
class Link {
 public:
  virtual ~Link() = default;
  virtual void send(v1::FeedResponse frame) = 0;
  /// Reads again after a pause.
  virtual void resume() = 0;
  /// Ends the stream after what was sent.
  virtual void close() = 0;
};

/// What to do after a frame.
enum class Reading { kGoOn, kPause, kEnd };

class Session {
 public:
  static constexpr size_t kMaxUnanswered = 64;
  using Tell = std::function<void(Event event, std::string detail)>;

  /// `heartbeat_ms`: told to the plugin. `tell` hears what happens, without the lock.
  Session(std::string settings_toml, std::string clock, uint32_t heartbeat_ms, Tell tell);

  /// A new process: frames of any earlier one are refused from now on.
  void renew(std::string session_id);
  [[nodiscard]] std::string id() const;

  /// First frame of a stream; the caller found this session by its id. Errors: told to the plugin.
  Status hello(const v1::PluginHello& hello, const std::shared_ptr<Link>& link);
  Reading frame(v1::FeedRequest frame, const std::shared_ptr<Link>& link);
  void broken(const std::shared_ptr<Link>& link);

  /// The recorder has this batch.
  void taken(const std::string& session_id, uint64_t batch_seq);
  /// Switches an output for `for_ms` (0: until told). False: no plugin is there that has it. The
  /// answer goes into the inbox.
  bool command(std::string_view output, bool on, uint32_t for_ms);
  /// Says stop to the plugin, where there is a stream.
  void say_stop(std::string_view reason, uint32_t grace_ms);

  /// Readings this process has sent, and the latest time one was taken (CLOCK_MONOTONIC).
  struct Sent {
    uint64_t readings = 0;
    int64_t newest_us = 0;
  };
  [[nodiscard]] Sent sent() const;
  /// Channels in a gap and the cause of one of them, as the courier saw them last.
  struct Down {
    int channels = 0;
    std::string cause{};
  };
  void set_down(Down down);
  [[nodiscard]] Down down() const;
  [[nodiscard]] Inbox& inbox() { return inbox_; }

 private:
  struct Outcome {
    Reading reading = Reading::kGoOn;
    std::vector<std::pair<Event, std::string>> events;
  };
  Outcome on_described(const v1::PluginDescribed& described);
  Outcome on_config_refused(const v1::PluginConfigRefused& refused);
  Outcome on_command_done(const v1::PluginCommandDone& done, const std::shared_ptr<Link>& link);
  Outcome on_batch(v1::PluginBatch batch, const std::shared_ptr<Link>& link);
  Reading put(Inbox::Item item, const std::shared_ptr<Link>& link);
  Outcome breach(std::string words);
  void say_refused(const std::string& reason);

  const std::string settings_toml_;
  const std::string clock_;
  const uint32_t heartbeat_ms_;
  const Tell tell_;
  Inbox inbox_;

  mutable std::mutex mutex_;
  std::string id_;
  std::shared_ptr<Link> link_;
  bool described_ = false;  // On this stream.
  std::string channels_;    // Serialized, to see whether a reconnect says the same.
  int channel_count_ = 0;
  bool takes_commands_ = false;
  std::set<std::string, std::less<>> outputs_;
  uint64_t commanded_ = 0;
  std::map<uint64_t, Inbox::Switched> unanswered_;  // At most kMaxUnanswered.
  uint64_t received_ = 0;
  Sent sent_;
  Down down_;
  uint64_t acked_ = 0;
};

/// 128 random bits as hex, from the kernel.
[[nodiscard]] std::string new_session_id();

}  // namespace fairlead::sensors
