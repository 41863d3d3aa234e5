// A SQLite VFS over the system's own that plays a bad disk: at a chosen operation the power goes,
// and what was written since the last sync is dropped, torn or reordered; or one sync fails; or the
// disk is full for a while. Registered as the default, so the ledger under test uses it unawares.
//
// Threads: any; one shim a process. Files written by other means (head file, attachments) are not
// played with.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <random>

namespace fairlead::ledger {

struct ShimPlan {
  /// Writes, truncations and syncs are counted from 1; 0 = never.
  uint64_t crash_at = 0;
  uint64_t fail_sync_at = 0;             // Counts syncs only.
  uint64_t full_from = 0, full_for = 0;  // Counts writes only.
  /// Where the files go as they are after the power came back; the process ends there with code
  /// kCrashed.
  std::filesystem::path after_crash;
  std::function<void()> on_failed_sync;
  uint64_t seed = 1;

  static constexpr int kCrashed = 77;
};

/// Once a process, before the first database is opened.
void install_shim(ShimPlan plan);

struct ShimCounts {
  uint64_t operations = 0, syncs = 0, writes = 0;
};
[[nodiscard]] ShimCounts shim_counts();

}  // namespace fairlead::ledger
