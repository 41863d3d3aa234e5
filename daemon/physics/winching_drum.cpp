#include "daemon/physics/winching_drum.h"

#include <numbers>
#include <tuple>

namespace fairlead::physics {
namespace {

Status check_drum(const Drum& drum) {
  for (const auto& [name, value, most] :
       {std::tuple{"diameter_mm", drum.diameter_mm, 1e4},
        std::tuple{"width_mm", drum.width_mm, 1e4}, std::tuple{"rope_mm", drum.rope_mm, 200.0},
        std::tuple{"rope_length_m", drum.rope_length_m, 1e4},
        std::tuple{"first_layer_n", drum.first_layer_n, 1e8}}) {
    if (auto ok = check_input(name, exactly(value), {1e-3, most}); !ok) return ok;
  }
  return check_input("width_mm", exactly(drum.width_mm), {drum.rope_mm, kNoBound});
}

double metres_per_turn(const Drum& drum, int layer) {
  return std::numbers::pi * (drum.diameter_mm + (2 * layer - 1) * drum.rope_mm) / 1000;
}

// Index of the layer that the line leaves from with that much rope out.
size_t index_at(const std::vector<DrumLayerPull>& layers, double rope_length_m, double out_m) {
  const double on_drum = rope_length_m - out_m;
  for (size_t i = 0; i < layers.size(); ++i) {
    if (on_drum <= layers[i].length_m) return i;
  }
  return layers.size() - 1;
}

Status check_out(const std::vector<DrumLayerPull>& layers, double rope_length_m,
                 const Interval& out_m) {
  if (layers.empty()) return fail(Code::kBadInput, "layers: none given; name the drum's layers");
  if (auto ok = check_input("rope_length_m", exactly(rope_length_m), {1e-3, 1e4}); !ok) return ok;
  return check_input("out_m", out_m, {0, 1e4});
}

}  // namespace

Result<std::vector<DrumLayerPull>> drum_layers(const Drum& drum) {
  if (auto ok = check_drum(drum); !ok) return std::unexpected(ok.error());
  const double turns = std::floor(drum.width_mm / drum.rope_mm + 1e-9);
  std::vector<DrumLayerPull> layers;
  double length_m = 0;
  for (int n = 1; n <= kMostLayers && length_m < drum.rope_length_m; ++n) {
    length_m += turns * metres_per_turn(drum, n);
    const double pull_n = drum.first_layer_n * (drum.diameter_mm + drum.rope_mm) /
                          (drum.diameter_mm + (2 * n - 1) * drum.rope_mm);
    layers.push_back({n, pull_n, length_m});
  }
  return layers;
}

Result<Interval> pull_with_rope_out_n(const std::vector<DrumLayerPull>& layers,
                                      double rope_length_m, Interval out_m) {
  if (auto ok = check_out(layers, rope_length_m, out_m); !ok) return std::unexpected(ok.error());
  return Interval{layers[index_at(layers, rope_length_m, out_m.lo)].pull_n,
                  layers[index_at(layers, rope_length_m, out_m.hi)].pull_n};
}

Result<Interval> layer_with_rope_out(const std::vector<DrumLayerPull>& layers, double rope_length_m,
                                     Interval out_m) {
  if (auto ok = check_out(layers, rope_length_m, out_m); !ok) return std::unexpected(ok.error());
  const auto number = [&](double out) {
    return static_cast<double>(layers[index_at(layers, rope_length_m, out)].number);
  };
  return Interval{number(out_m.hi), number(out_m.lo)};
}

Result<Check> check_wraps(const Drum& drum, RopeKind kind, Interval out_m) {
  if (auto ok = check_drum(drum); !ok) return std::unexpected(ok.error());
  if (auto ok = check_input("out_m", out_m, {0, 1e4}); !ok) return std::unexpected(ok.error());
  const double stays_m = least_wraps(kind) * metres_per_turn(drum, 1);
  return from(at_most("rope out", "m", out_m, exactly(drum.rope_length_m - stays_m)),
              fmt::format("{} wraps stay on the drum", least_wraps(kind)), Standing::kSecondary);
}

}  // namespace fairlead::physics
