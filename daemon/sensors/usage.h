// How much of the machine a plugin's process takes, and when that is too much. A plugin that leaks
// or spins must be ended before the recorder beside it suffers.
//
// Threads: one at a time. Units: in the names.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "daemon/sensors/life.h"

namespace fairlead::sensors {

struct Usage {
  int64_t rss_kib = 0;
  int64_t cpu_us = 0;  // Since its start.
  int64_t open_files = 0;
};
/// From /proc; none when the process is gone.
[[nodiscard]] std::optional<Usage> usage_of(int pid);

/// Looks twice a second, judges against the limits.
class UsageWatch {
 public:
  explicit UsageWatch(const Limits& limits) : limits_(limits) {}
  /// A new process.
  void begin(int64_t now_us);
  [[nodiscard]] bool due(int64_t now_us) const { return now_us >= due_us_; }
  /// `readings`: sent by this process so far; `newest_us`: when the latest was taken. What waited
  /// for a slow recorder and comes at once is no flood: it was taken over a longer time. Returns
  /// what is too much, in words.
  std::optional<std::string> judge(const Usage& usage, uint64_t readings, int64_t newest_us,
                                   int64_t now_us);

 private:
  const Limits limits_;
  int64_t due_us_ = 0;
  int64_t last_us_ = 0;
  int64_t last_newest_us_ = 0;
  int64_t last_cpu_us_ = 0;
  uint64_t last_readings_ = 0;
  int busy_looks_ = 0;
  int flood_looks_ = 0;
};

}  // namespace fairlead::sensors
