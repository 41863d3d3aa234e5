// Child processes of the supervisor: checked, spawned in a group of their own with nothing
// inherited, watched by a pidfd, signalled as a group.
//
// Threads: spawn from a thread that outlives the child: a child that asks for a signal at its
// parent's death gets it when the spawning *thread* ends.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/base/result.h"

namespace fairlead::sensors {

/// Refuses what others could have put there: a program that belongs to neither root nor us, or that
/// anyone may write, itself or a folder above it (sticky folders are let pass).
/// Returns the real path. Errors: kDenied, kNotFound, each with what to do.
[[nodiscard]] Result<std::filesystem::path> trusted_program(const std::filesystem::path& program);

class Process {
 public:
  static constexpr int kInheritedFd = 3;

  /// stdout and stderr of the child come out of output_fd() (non-blocking); stdin is empty; the
  /// environment is PATH, LANG=C.UTF-8, TZ=UTC only. `inherit` (-1: nothing) becomes descriptor
  /// kInheritedFd of the child. Errors: kIo, kDenied, kNotFound.
  static Result<Process> spawn(const std::filesystem::path& program,
                               const std::vector<std::string>& arguments, int inherit = -1);
  Process() = default;
  Process(Process&& other) noexcept;
  Process& operator=(Process&& other) noexcept;
  Process(const Process&) = delete;
  Process& operator=(const Process&) = delete;
  /// Kills what is still running and reaps it.
  ~Process();

  [[nodiscard]] bool running() const { return pid_ > 0; }
  [[nodiscard]] int pid() const { return pid_; }
  [[nodiscard]] int pid_fd() const { return pid_fd_; }
  [[nodiscard]] int output_fd() const { return output_fd_; }
  void signal_group(int signal) const;
  /// True once it has ended; then `words` say how ("exit status 1", "killed by signal 9") and what
  /// is left of its group has been killed.
  bool reap(std::string& words);
  void close_output();

 private:
  void clear();
  int pid_ = 0;
  int pid_fd_ = -1;
  int output_fd_ = -1;
};

}  // namespace fairlead::sensors
