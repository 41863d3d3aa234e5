// Way rolled from a rope counter: the sum of the differences between turning points of the rope
// paid out. A reversal counts once it exceeds the noise of a difference.
//
// Units: millimetres, whole. Threads: pure function.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

namespace fairlead::physics {

struct RopeWay {
  int64_t best_mm = 0;
  int chords = 0;  // Straight pulls the way is made of; each adds the noise of one difference.
};

/// `out_mm`: rope out, in order of time. `reversal_mm`: 1.645 s.d. sqrt 2 of the counter.
[[nodiscard]] RopeWay rope_way(std::span<const int64_t> out_mm, int64_t reversal_mm);

}  // namespace fairlead::physics
