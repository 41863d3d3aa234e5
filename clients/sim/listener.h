// A TCP listener on this machine only, and the signal that ends a simulator.
//
// Threads: one. Ownership: closes on destruction.
#pragma once

#include <cstdint>

#include "daemon/base/result.h"

namespace fairlead::sim {

class Listener {
 public:
  /// 127.0.0.1:port; 0 takes a free one. Prints "listening on 127.0.0.1:PORT" on stdout.
  /// Errors: kIo.
  static Result<Listener> open(int port);
  Listener(Listener&& other) noexcept;
  Listener& operator=(Listener&&) = delete;
  Listener(const Listener&) = delete;
  Listener& operator=(const Listener&) = delete;
  ~Listener();

  [[nodiscard]] int fd() const { return fd_; }
  /// A non-blocking connection, or -1.
  [[nodiscard]] int accept() const;

 private:
  explicit Listener(int fd) : fd_(fd) {}
  int fd_ = -1;
};

/// SIGTERM and SIGINT set ended() instead of killing; SIGPIPE is ignored.
void end_on_signals();
[[nodiscard]] bool ended();

/// CLOCK_REALTIME and CLOCK_MONOTONIC in microseconds.
[[nodiscard]] int64_t wall_us();
[[nodiscard]] int64_t mono_us();

}  // namespace fairlead::sim
