// Says on a terminal's stderr that a longer call is still at work, once a second from the first on.
// Silent where stderr is no terminal.
//
// Threads: one of its own, ended with the object.
#pragma once

#include <condition_variable>
#include <mutex>
#include <string>
#include <thread>

namespace fairlead::cli {

class Waiting {
 public:
  explicit Waiting(std::string what);
  ~Waiting();
  Waiting(const Waiting&) = delete;
  Waiting& operator=(const Waiting&) = delete;

 private:
  std::mutex mutex_;
  std::condition_variable over_;
  bool done_ = false;
  std::thread thread_;
};

}  // namespace fairlead::cli
