// The private folder of the plugins' socket, held by one daemon at a time. gRPC would silently take
// over a socket another daemon listens on; the lock prevents that.
//
// Threads: one. Ownership: the lock is held until destruction.
#pragma once

#include <filesystem>

#include "daemon/base/result.h"

namespace fairlead::sensors {

class RuntimeDir {
 public:
  /// Makes the folder (0700) or checks that it is ours and closed to others, and takes its lock.
  /// Errors: kDenied for rights, kConflict when another daemon holds it, kBadInput for a path too
  /// long for a socket, kIo.
  static Result<RuntimeDir> open(const std::filesystem::path& dir);
  RuntimeDir(RuntimeDir&& other) noexcept;
  RuntimeDir& operator=(RuntimeDir&&) = delete;
  RuntimeDir(const RuntimeDir&) = delete;
  RuntimeDir& operator=(const RuntimeDir&) = delete;
  ~RuntimeDir();

  [[nodiscard]] std::filesystem::path socket() const { return dir_ / "plugins.sock"; }

 private:
  RuntimeDir(std::filesystem::path dir, int lock_fd) : dir_(std::move(dir)), lock_fd_(lock_fd) {}
  std::filesystem::path dir_;
  int lock_fd_ = -1;
};

}  // namespace fairlead::sensors
