// Carries what the plugins sent to the recorder: inbox by inbox in turn, one item at a time, with
// an ack back for each batch once the recorder has taken all of it. A full recorder holds back
// acks, never loses anything; a plugin with much to say does not starve the others.
//
// Threads: one thread of its own between start and stop. Lanes are added before start.
#pragma once

#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "daemon/sensors/clock_check.h"
#include "daemon/sensors/session.h"
#include "daemon/sensors/spec.h"

namespace fairlead::sensors {

/// What one plugin's items become. Pure but for its own memory of the channels.
class Lane {
 public:
  Lane(std::string id, std::string clock, int64_t alive_every_us)
      : id_(std::move(id)), clock_(std::move(clock)), alive_every_us_(alive_every_us) {}

  /// From here on readings whose clocks are not this machine's are not believed.
  void check_clocks() { checks_clocks_ = true; }

  /// The observations of one item, in order. What is not believed becomes a gap, at most one a
  /// second and channel, with the count of what it stands for: a liar must not fill the record.
  std::vector<v1::Observation> observations(const Inbox::Item& item);
  [[nodiscard]] Session::Down down() const;

 private:
  std::vector<v1::Observation> of(const Inbox::Batch& item);
  std::vector<v1::Observation> of(const Inbox::Beat& item);
  std::vector<v1::Observation> of(const Inbox::Described& item);
  std::vector<v1::Observation> of(const Inbox::Mark& item);
  std::vector<v1::Observation> of(const Inbox::Switched& item);
  std::optional<v1::Observation> judge(const v1::PluginReading& reading, int64_t now_us);
  void give_up(uint32_t channel, int64_t now_us, std::vector<v1::Observation>& out);

  std::string id_;
  std::string clock_;
  int64_t alive_every_us_;
  std::vector<v1::PluginChannel> channels_;
  // Not believed of one channel and not said yet.
  struct Doubt {
    int64_t said_us = 0;
    uint64_t unsaid = 0;
    v1::Observation last;
  };
  std::map<uint32_t, Doubt> doubts_;
  bool checks_clocks_ = false;
  ClockCheck clocks_;
  std::map<std::string, std::string> switched_;  // By output, what was said last.
  bool nameless_gap_ = false;                    // Missing was said under the plugin's own name.
  std::map<uint32_t, std::string> down_;         // Channels in a gap, and its cause.
  std::map<std::string, int64_t> alive_at_us_;   // By source.
};

class Courier {
 public:
  explicit Courier(Sink sink) : sink_(std::move(sink)) {}
  ~Courier() { stop(0); }

  void add(std::shared_ptr<Session> session, Lane lane);
  void start();
  /// Something was put into an inbox.
  void wake();
  /// Delivers what is left for at most `within_us`, then ends.
  void stop(int64_t within_us);

 private:
  struct Stop {
    std::shared_ptr<Session> session;
    Lane lane;
  };
  void run();
  bool deliver_one(Stop& stop);
  bool offer(const v1::Observation& observation);

  Sink sink_;
  std::vector<Stop> stops_;
  std::thread thread_;
  std::mutex mutex_;
  std::condition_variable changed_;
  bool woken_ = false;
  bool ending_ = false;
  std::atomic<int64_t> give_up_us_ = INT64_MAX;
};

/// CLOCK_REALTIME and CLOCK_MONOTONIC in microseconds.
[[nodiscard]] int64_t wall_now_us();
[[nodiscard]] int64_t mono_now_us();

}  // namespace fairlead::sensors
