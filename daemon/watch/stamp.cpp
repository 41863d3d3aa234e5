#include "daemon/watch/stamp.h"

#include <time.h>

#include <algorithm>
#include <fstream>
#include <string>

namespace fairlead::watch {
namespace {

int64_t read_us(clockid_t clock) {
  timespec now{};
  clock_gettime(clock, &now);
  return int64_t{now.tv_sec} * 1'000'000 + now.tv_nsec / 1'000;
}

record::Id16 read_boot_id() {
  std::ifstream in("/proc/sys/kernel/random/boot_id");
  std::string text;
  std::getline(in, text);
  std::erase(text, '-');
  return array_of_hex<16>(text, "boot id").value_or(record::Id16{});
}

}  // namespace

int64_t wall_now_us() { return read_us(CLOCK_REALTIME); }
int64_t mono_now_us() { return read_us(CLOCK_BOOTTIME); }

const record::Id16& boot_id() {
  static const record::Id16 kId = read_boot_id();
  return kId;
}

void stamp(record::EntryHeader& header, const Clocks& clocks) {
  header.wall_us = clocks.wall_us();
  header.mono_us = static_cast<uint64_t>(clocks.mono_us());
  header.boot_id = clocks.boot();
  header.time_source = record::TimeSource::kRtc;
}

}  // namespace fairlead::watch
