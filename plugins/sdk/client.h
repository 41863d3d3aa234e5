// The plugin's end of the stream: hello, configuration, batches and heartbeats out, acks in,
// reconnects on a socket path. gRPC's callback API underneath; one thread of ours paces the writes.
//
// Threads: run() belongs to one thread; stop_after_drain() any.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "fairlead/v1/plugin_service.pb.h"
#include "plugins/sdk/address.h"
#include "plugins/sdk/feed.h"

namespace fairlead::sdk {

class Stream;

enum class Ending {
  kStopped,        // The daemon or a signal asked for it.
  kConfigRefused,  // The configuration cannot be used.
  kRefused,        // The daemon does not accept this session.
  kStreamGone,     // No daemon any more.
};

class Client {
 public:
  /// Checks the configuration; fills what the plugin delivers, or returns the problems.
  using Configure = std::function<std::vector<v1::PluginConfigProblem>(
      const std::string& toml, v1::PluginDescribed& described)>;
  using Ready = std::function<void()>;

  /// How long a broken stream is dialled again before the plugin gives up and exits.
  static constexpr std::chrono::milliseconds kGiveUpAfter{4000};
  static constexpr std::chrono::milliseconds kAnswerWithin{5000};
  static constexpr std::chrono::milliseconds kBatchEvery{25};

  Client(Address address, v1::PluginHello hello, Feed& feed, Configure configure, Ready ready);
  ~Client();

  /// Serves until the end. `ready` is called once, when the first configuration was accepted.
  Ending run();
  /// After the acquisition loop ended: run() returns when everything is acked, at the latest after
  /// `within`.
  void stop_after_drain(std::chrono::milliseconds within);

 private:
  std::optional<Ending> shake_hands(Stream& stream);
  std::optional<Ending> pump(Stream& stream);
  std::optional<Ending> configure(Stream& stream, const std::string& toml);
  void take_command(const v1::PluginCommand& command);
  bool send_due(Stream& stream);

  Address address_;
  v1::PluginHello hello_;
  Feed& feed_;
  Configure configure_;
  Ready ready_;
  bool configured_ = false;
  v1::PluginDescribed described_;
  uint64_t turns_told_ = 0;
  // A heartbeat on its way: it goes behind everything read before it and before anything later, so
  // that neither a crash nor a torrent of readings makes it lie.
  struct Beat {
    v1::PluginHeartbeat beat;
    uint64_t behind = 0;  // This batch.
  };
  std::optional<Beat> beat_next_;
  std::chrono::steady_clock::time_point beat_told_{};
  std::chrono::steady_clock::time_point batch_told_{};
  std::chrono::milliseconds beat_every_{125};
  // Guarded by feed_.mutex_.
  std::optional<std::chrono::steady_clock::time_point> drain_until_;
};

}  // namespace fairlead::sdk
