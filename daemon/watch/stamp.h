// The clocks an entry states: wall, monotonic since boot, and which boot.
//
// Threads: pure reads of the system.
#pragma once

#include <cstdint>
#include <functional>

#include "daemon/record/entry.h"

namespace fairlead::watch {

[[nodiscard]] int64_t wall_now_us();
/// Since boot, never runs back.
[[nodiscard]] int64_t mono_now_us();
/// Random per boot of the machine; zero where the system does not say.
[[nodiscard]] const record::Id16& boot_id();

/// Where a recorder reads its clocks; tests play others.
struct Clocks {
  std::function<int64_t()> wall_us = wall_now_us;
  std::function<int64_t()> mono_us = mono_now_us;
  std::function<record::Id16()> boot = boot_id;
};

/// Fills in wall_us, mono_us, boot_id and time_source.
void stamp(record::EntryHeader& header, const Clocks& clocks = {});

}  // namespace fairlead::watch
