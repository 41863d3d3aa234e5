// Between which moments an entry was made, by the word of countersigners alone.
//
// A countersigner writes the time into each cosignature. The base puts the cosigned head into the
// log as a HEAD_COSIGNED entry. An entry whose device had seen a head that covers that
// HEAD_COSIGNED was made after the cosignature: it commits, through seen_root, to a signature that
// did not exist before. (That the seen head is merely larger than the cosigned one proves nothing:
// the device may have seen it before anybody cosigned.) And an entry was made before every
// cosignature on a head that covers its leaf.
// Threads: pure functions. Times: Unix seconds as countersigners wrote them.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace fairlead::record {

struct CosignedHead {
  uint64_t size = 0;
  /// Leaf of its HEAD_COSIGNED entry; absent where only the head itself is known.
  std::optional<uint64_t> entry_leaf;
  std::vector<uint64_t> times_s;  // One a countersigner whose signature is good.
};

struct Bracket {
  std::optional<uint64_t> not_before_s;
  std::optional<uint64_t> not_after_s;
};

/// `threshold` of the countersigners must say so, as the policy asks; 0 counts as 1.
[[nodiscard]] Bracket bracket_of(std::span<const CosignedHead> heads, uint64_t seen_size,
                                 uint64_t leaf, size_t threshold = 1);

}  // namespace fairlead::record
