// A plugin that speaks the contract by itself, without the SDK's client, so that it can break it at
// any place. With fault "none" it keeps it.
//
// Threads: one.
#pragma once

#include <chrono>
#include <cstdint>
#include <deque>
#include <optional>
#include <random>
#include <string>

#include "fairlead/v1/plugin_service.pb.h"
#include "plugins/misbehave/harm.h"
#include "plugins/misbehave/settings.h"
#include "plugins/sdk/address.h"
#include "plugins/sdk/outbox.h"

namespace fairlead::sdk {
class Stream;
}

namespace fairlead::misbehave {

class Actor {
 public:
  Actor(sdk::Address address, std::string session, Settings settings);
  ~Actor();
  /// Until it has to end. Returns the exit code.
  int run();

 private:
  std::optional<int> serve(sdk::Stream& stream);
  std::optional<int> greet(sdk::Stream& stream);
  std::optional<int> configure(sdk::Stream& stream, const std::string& toml);
  std::optional<int> listen(sdk::Stream& stream);
  void switch_output(const v1::PluginCommand& command);
  void describe(sdk::Stream& stream);
  void speak(sdk::Stream& stream);
  v1::FeedRequest next_frame();
  void spoil(v1::PluginBatch& batch) const;
  void send(sdk::Stream& stream, v1::FeedRequest frame);

  void turn();
  void generate(int64_t now_us);
  void read_device();
  void take_line(const std::string& line);
  void open_device();
  void reading(double value, int64_t mono_us);
  void mark_gap(const std::string& cause);
  [[nodiscard]] bool bad(Fault fault) const;
  [[nodiscard]] bool bad_since(Fault fault, int64_t mono_us) const;

  sdk::Address address_;
  Settings settings_;
  v1::PluginHello hello_;
  Harm harm_;
  std::mt19937_64 random_;
  sdk::Outbox outbox_;
  bool configured_ = false;
  bool stopping_ = false;
  int64_t started_us_ = 0;
  int64_t due_us_ = 0;
  int64_t wall_due_us_ = 0;
  int64_t beat_told_us_ = 0;
  int64_t batch_told_us_ = 0;
  int64_t heard_us_ = 0;
  int64_t redial_us_ = 0;
  uint64_t turns_ = 0;
  uint64_t turns_told_ = 0;
  std::optional<v1::PluginHeartbeat> beat_next_;  // Behind batch beat_behind_.
  uint64_t beat_behind_ = 0;
  uint64_t count_ = 0;
  uint64_t batches_ = 0;
  uint64_t beat_every_us_ = 125'000;
  int device_ = -1;
  bool gap_ = false;
  std::string line_;
  std::deque<v1::PluginCommandDone> answers_;
};

/// Asked to end by SIGTERM or SIGINT.
void watch_for_the_end();

}  // namespace fairlead::misbehave
