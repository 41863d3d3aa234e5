#include "daemon/record/brackets.h"

#include <algorithm>

namespace fairlead::record {

Bracket bracket_of(std::span<const CosignedHead> heads, uint64_t seen_size, uint64_t leaf,
                   size_t threshold) {
  Bracket out;
  threshold = std::max<size_t>(threshold, 1);
  for (const CosignedHead& head : heads) {
    if (head.times_s.size() < threshold) continue;
    std::vector<uint64_t> times = head.times_s;
    std::ranges::sort(times);
    // As many as asked for say "not later than this" ...
    const uint64_t latest = times[threshold - 1];
    // ... and "not earlier than that".
    const uint64_t earliest = times[times.size() - threshold];
    if (head.size > leaf) out.not_after_s = std::min(out.not_after_s.value_or(latest), latest);
    if (head.entry_leaf && *head.entry_leaf < seen_size) {
      out.not_before_s = std::max(out.not_before_s.value_or(earliest), earliest);
    }
  }
  return out;
}

}  // namespace fairlead::record
