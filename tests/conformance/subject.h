// The plugin under test as a process: an empty folder, a small environment, nothing inherited, and
// what can be seen of it from outside.
//
// Threads: one; output is drained by a thread of its own.
#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

namespace fairlead::conformance {

class Subject {
 public:
  struct Start {
    std::filesystem::path program;
    std::vector<std::string> arguments;
    std::filesystem::path folder;      // Its working directory.
    std::vector<std::string> extra{};  // More of the environment, NAME=VALUE.
  };
  explicit Subject(const Start& start);
  /// Kills its group and whatever else came from it.
  ~Subject();
  Subject(const Subject&) = delete;
  Subject& operator=(const Subject&) = delete;

  [[nodiscard]] bool started() const { return pid_ > 0; }
  [[nodiscard]] bool running();
  void signal(int number) const;
  /// How it ended: exit status, or 1000 + signal; none when it still runs after `within`.
  std::optional<int> ended(std::chrono::milliseconds within);

  [[nodiscard]] int64_t rss_kib() const;
  [[nodiscard]] int64_t open_files() const;
  [[nodiscard]] int64_t cpu_ms() const;
  /// By thread, the nanoseconds it ran or waited for a processor: on a busy machine one that spins
  /// runs little but is always ready.
  [[nodiscard]] std::map<std::string, int64_t> ready_ns() const;
  [[nodiscard]] std::string out() const;
  [[nodiscard]] std::string err() const;
  /// Processes that carry this one's mark, itself included while it runs.
  [[nodiscard]] std::vector<int> kin() const;

 private:
  void drain();
  int pid_ = 0;
  std::optional<int> status_;
  std::string mark_;
  int out_fd_ = -1;
  int err_fd_ = -1;
  int stop_fd_ = -1;
  mutable std::mutex mutex_;
  std::string out_;
  std::string err_;
  std::thread drainer_;
};

/// Numbers stay apart within one run of the kit.
[[nodiscard]] std::string unique_word();

}  // namespace fairlead::conformance
