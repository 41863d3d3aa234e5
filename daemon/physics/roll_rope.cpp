#include "daemon/physics/roll_rope.h"

#include <algorithm>
#include <cstdlib>

namespace fairlead::physics {

RopeWay rope_way(std::span<const int64_t> out_mm, int64_t reversal_mm) {
  RopeWay way;
  if (out_mm.empty()) return way;
  int64_t turn = out_mm.front();  // Last turning point.
  int64_t extreme = turn;         // Farthest from it so far.
  bool gone = false;              // Beyond the noise: only then is there a way to turn back from.
  for (const int64_t here : out_mm) {
    gone = gone || std::abs(here - turn) > reversal_mm;
    if (!gone) continue;
    const bool onward =
        std::abs(here - turn) >= std::abs(extreme - turn) && (here >= turn) == (extreme >= turn);
    if (onward || extreme == turn) {
      extreme = here;
    } else if (std::abs(here - extreme) > reversal_mm) {
      way.best_mm += std::abs(extreme - turn);
      ++way.chords;
      turn = extreme;
      extreme = here;
    }
  }
  // The last chord ends where the rope stands now, not at its farthest noise.
  way.best_mm += std::abs(out_mm.back() - turn);
  ++way.chords;
  return way;
}

}  // namespace fairlead::physics
