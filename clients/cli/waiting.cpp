#include "clients/cli/waiting.h"

#include <fmt/core.h>
#include <unistd.h>

#include <chrono>

namespace fairlead::cli {

Waiting::Waiting(std::string what) {
  if (isatty(STDERR_FILENO) == 0) return;
  thread_ = std::thread([this, what = std::move(what)] {
    std::unique_lock lock(mutex_);
    int seconds = 0;
    while (!over_.wait_for(lock, std::chrono::seconds(1), [this] { return done_; }))
      fmt::print(stderr, "\r{}: {} s", what, ++seconds);
    if (seconds > 0) fmt::print(stderr, "\r{:{}}\r", "", what.size() + 12);
  });
}

Waiting::~Waiting() {
  {
    const std::lock_guard lock(mutex_);
    done_ = true;
  }
  over_.notify_all();
  if (thread_.joinable()) thread_.join();
}

}  // namespace fairlead::cli
