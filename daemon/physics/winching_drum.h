// What a winch pulls on each layer of its drum, and which layer is in use.
//
// Constant torque (from memory): F_n = F_1 (D + d) / (D + (2 n - 1) d). A layer's length is its
// turns (drum width / rope) times the circumference at its rope's centre, wound tight and level. A
// measured peak is compared with the layer in use, never with the plate.
//
// Threads: pure functions. Units: mm, m of rope, N.
#pragma once

#include <vector>

#include "daemon/physics/check.h"

namespace fairlead::physics {

struct Drum {
  double diameter_mm = 0, width_mm = 0, rope_mm = 0;
  double rope_length_m = 0;
  double first_layer_n = 0;
};

struct DrumLayerPull {
  int number = 1;  // From the inside.
  double pull_n = 0;
  double length_m = 0;  // Rope on the drum up to and with this layer, when full.
};

inline constexpr int kMostLayers = 64;

/// Layers until all the rope is wound, `kMostLayers` at most. Errors: kBadInput for a size or pull
/// that is not positive, is NaN or is absurd.
[[nodiscard]] Result<std::vector<DrumLayerPull>> drum_layers(const Drum& drum);

/// Rated pull with that much rope out, over all layers that may be in use. Errors: kBadInput for no
/// layers or rope out that is negative or NaN.
[[nodiscard]] Result<Interval> pull_with_rope_out_n(const std::vector<DrumLayerPull>& layers,
                                                    double rope_length_m, Interval out_m);
/// The layers themselves, first to last.
[[nodiscard]] Result<Interval> layer_with_rope_out(const std::vector<DrumLayerPull>& layers,
                                                   double rope_length_m, Interval out_m);

/// Rule of thumb: loss per layer, by two pages (secondary sources).
inline constexpr Interval kLossPerLayer{0.10, 0.15};

enum class RopeKind { kWire, kSynthetic };
/// Wraps that stay on the drum (secondary source; maker's word goes first).
[[nodiscard]] constexpr int least_wraps(RopeKind kind) { return kind == RopeKind::kWire ? 5 : 10; }
/// Rope out against what may leave the drum. Errors: as drum_layers.
[[nodiscard]] Result<Check> check_wraps(const Drum& drum, RopeKind kind, Interval out_m);

}  // namespace fairlead::physics
