#include "plugins/line/rope.h"

#include <algorithm>
#include <cmath>

#include "daemon/physics/winching_drum.h"

namespace fairlead::line {

namespace {
double from_m(const Rope& rope, size_t layer) { return layer == 0 ? 0 : rope.up_to_m[layer - 1]; }
double turn_m(const Rope& rope, size_t layer) {
  return (rope.up_to_m[layer] - from_m(rope, layer)) / rope.turns_a_layer;
}
}  // namespace

Result<Rope> rope_on(const DrumSize& drum) {
  // The pull is not asked for; any will do.
  auto layers = physics::drum_layers(
      {drum.diameter_mm, drum.width_mm, drum.rope_mm, drum.rope_length_m, 1.0});
  if (!layers) return std::unexpected(layers.error());
  Rope rope;
  rope.length_m = drum.rope_length_m;
  rope.turns_a_layer = std::floor(drum.width_mm / drum.rope_mm + 1e-9);
  for (const auto& layer : *layers) rope.up_to_m.push_back(layer.length_m);
  if (rope.up_to_m.empty() || rope.up_to_m.back() < rope.length_m) {
    return fail(Code::kBadInput, "rope_length_m: does not fit on the drum; check the sizes");
  }
  return rope;
}

double rope_out_m(const Rope& rope, double turns_out) {
  size_t layer = rope.up_to_m.size() - 1;
  double out_m = 0;
  // Rope on the layer the line leaves from.
  double here_m = rope.length_m - from_m(rope, layer);
  double turns = turns_out;
  while (turns * turn_m(rope, layer) > here_m) {
    out_m += here_m;
    if (layer == 0) return rope.length_m;
    turns -= here_m / turn_m(rope, layer);
    --layer;
    here_m = rope.up_to_m[layer] - from_m(rope, layer);
  }
  return out_m + turns * turn_m(rope, layer);
}

}  // namespace fairlead::line
