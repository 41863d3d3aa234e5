// Rope out by the turns of a winch drum. The rope lies in layers, the first on the bare drum; it
// leaves from the outermost, which has the longest turns, so metres a turn fall as the drum
// empties. Layers and their lengths: daemon/physics/winching_drum (wound tight and level).
//
// Threads: pure functions. Units: mm for the drum, m for rope, turns paid out since fully wound.
#pragma once

#include <vector>

#include "daemon/base/result.h"

namespace fairlead::line {

struct DrumSize {
  double diameter_mm = 0, width_mm = 0, rope_mm = 0;
  double rope_length_m = 0;
};

/// Made once from the drum's size.
struct Rope {
  double length_m = 0;
  double turns_a_layer = 0;
  std::vector<double> up_to_m;  // On the drum up to and with this layer, when full.
};

/// Errors: kBadInput for a size that is absurd, or rope that does not fit.
[[nodiscard]] Result<Rope> rope_on(const DrumSize& drum);

/// Metres out after so many turns from fully wound. Negative turns (wound tighter than counted) go
/// on as the outermost layer; past the last turn all of it is out.
[[nodiscard]] double rope_out_m(const Rope& rope, double turns_out);

}  // namespace fairlead::line
