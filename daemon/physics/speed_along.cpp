#include "daemon/physics/speed_along.h"

#include <cmath>

namespace fairlead::physics {
namespace {

constexpr int64_t kAroundUs = 5'000'000;
constexpr size_t kFewest = 3;

}  // namespace

std::vector<std::optional<double>> speeds_along(std::span<const VelocityReading> readings) {
  std::vector<std::optional<double>> along;
  size_t from = 0, to = 0;
  for (const VelocityReading& here : readings) {
    while (readings[from].time_us < here.time_us - kAroundUs) ++from;
    while (to < readings.size() && readings[to].time_us <= here.time_us + kAroundUs) ++to;
    double east = 0.0, north = 0.0;
    for (size_t i = from; i < to; ++i) {
      east += readings[i].east_mps;
      north += readings[i].north_mps;
    }
    const double length = std::sqrt(east * east + north * north);
    const bool enough = length != 0.0 && to - from >= kFewest;
    along.push_back(enough ? std::optional((here.east_mps * east + here.north_mps * north) / length)
                           : std::nullopt);
  }
  return along;
}

}  // namespace fairlead::physics
