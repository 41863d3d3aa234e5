// Keeps a truck connected to its base: one thread that dials, runs the protocol, and dials again
// after a growing pause when the link breaks.
//
// Threads: made and destroyed by one; state may be asked from any.
#pragma once

#include <atomic>
#include <functional>
#include <memory>
#include <string>
#include <thread>

#include "daemon/uplink/pipe.h"
#include "daemon/uplink/uplink_state.h"

namespace fairlead::uplink {

struct UplinkOptions {
  std::function<std::unique_ptr<Pipe>()> dial;
  std::chrono::milliseconds longest_pause{10'000};
  /// One line of progress, for people.
  std::function<void(const std::string&)> log;
};

class UplinkRoom {
 public:
  UplinkRoom(UplinkStore& store, UplinkOptions options);
  ~UplinkRoom();
  UplinkRoom(const UplinkRoom&) = delete;
  UplinkRoom& operator=(const UplinkRoom&) = delete;

  [[nodiscard]] bool connected() const { return connected_; }
  [[nodiscard]] uint64_t acked_seq() const { return acked_; }

 private:
  void run();
  /// One connection from hello to its end; says why it ended.
  Error session();
  Status turn(UplinkState& state, Pipe& pipe);
  void pause(std::chrono::milliseconds wait);

  UplinkStore& store_;
  UplinkOptions options_;
  std::atomic<bool> stop_{false}, connected_{false};
  std::atomic<uint64_t> acked_{0};
  std::string said_;
  uint32_t asked_pause_ms_ = 0;
  uint64_t replies_ = 0;
  std::thread thread_;
};

}  // namespace fairlead::uplink
