#include "daemon/physics/roll_creep.h"

#include <algorithm>
#include <cmath>

#include "daemon/base/exact_math.h"

namespace fairlead::physics {
namespace {

constexpr double kAfter = 2.0;    // s after the line says the pull ended ...
constexpr double kBefore = 3.2;   // ... and before the next: then it is rest, early or late.
constexpr double kWindow = 10.0;  // s.
constexpr int kWindows = 3;       // After each pull.
constexpr double kNoise = 2.5;    // Variances taken off; 2 is what both axes bring on average.

// Variance, per axis, of coloured and white velocity noise added up over `seconds` in `count`
// readings.
double drift_variance(std::span<const RollNoise> noises, std::span<const double> weights,
                      double seconds, int count) {
  double variance = 0.0;
  for (size_t i = 0; i < noises.size(); ++i) {
    const RollNoise& noise = noises[i];
    const double own = seconds - noise.tau_d * (1.0 - exact_exp(-seconds / noise.tau_d));
    variance += weights[i] * (2.0 * noise.sd_d * noise.sd_d * noise.tau_d * own +
                              noise.sd_u * noise.sd_u * seconds * seconds / count);
  }
  return variance;
}

}  // namespace

double creep_seen(std::span<const TagFix> fixes, std::span<const TagPull> pulls,
                  std::span<const RollNoise> noises, std::span<const double> weights) {
  double largest = 0.0;
  for (size_t i = 0; i < pulls.size(); ++i) {
    if (!pulls[i].counted) continue;
    const double end =
        i + 1 < pulls.size() ? static_cast<double>(pulls[i + 1].from_us) / 1e6 - kBefore : 1e300;
    for (int k = 0; k < kWindows; ++k) {
      const double from = static_cast<double>(pulls[i].to_us) / 1e6 + kAfter + k * kWindow;
      const double to = std::min(from + kWindow, end);
      double east = 0.0, north = 0.0, first = 0.0, last = 0.0;
      int count = 0;
      for (const TagFix& fix : fixes) {
        const double time = static_cast<double>(fix.time_us) / 1e6;
        if (time < from || time >= to || !fix.east_mps || !fix.north_mps) continue;
        if (count++ == 0) first = time;
        last = time;
        east += *fix.east_mps;
        north += *fix.north_mps;
      }
      if (count < 3 || last <= first) continue;
      const double seconds = (last - first) * count / (count - 1);
      east *= seconds / count;
      north *= seconds / count;
      const double square =
          east * east + north * north - kNoise * drift_variance(noises, weights, seconds, count);
      if (square > 0.0) largest = std::max(largest, std::sqrt(square));
    }
  }
  return largest;
}

}  // namespace fairlead::physics
