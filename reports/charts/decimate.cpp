#include <algorithm>
#include <cmath>

#include "reports/charts/plot.h"

namespace fairlead::reports {
namespace {

BinnedPoint point_of(const SeriesPoint& p, int64_t start_us) {
  return {static_cast<double>(p.time_us - start_us) / 1e6, p.value, p.value - p.half_width,
          p.value + p.half_width};
}

}  // namespace

std::vector<BinnedPoint> decimate(const std::vector<SeriesPoint>& points, int64_t start_us) {
  std::vector<BinnedPoint> out;
  if (points.size() <= kMostPoints) {
    for (const auto& p : points) out.push_back(point_of(p, start_us));
    return out;
  }
  constexpr size_t kBins = kMostPoints / 2;
  const int64_t first = points.front().time_us;
  const int64_t span = std::max<int64_t>(1, points.back().time_us - first + 1);
  for (size_t at = 0; at < points.size();) {
    const auto bin = [&](size_t i) {
      return static_cast<size_t>(static_cast<double>(points[i].time_us - first) /
                                 static_cast<double>(span) * kBins);
    };
    const size_t this_bin = bin(at);
    size_t least = at;
    size_t most = at;
    for (; at < points.size() && bin(at) == this_bin; ++at) {
      if (points[at].value < points[least].value) least = at;
      if (points[at].value > points[most].value) most = at;
    }
    out.push_back(point_of(points[std::min(least, most)], start_us));
    if (least != most) out.push_back(point_of(points[std::max(least, most)], start_us));
  }
  return out;
}

std::vector<double> ticks(double lo, double hi) {
  if (!(hi > lo)) return {lo};
  double step = std::pow(10, std::floor(std::log10(hi - lo)));
  while ((hi - lo) / step < 3) step /= 2;
  while ((hi - lo) / step > 7) step *= 2;
  std::vector<double> out;
  for (double at = std::ceil(lo / step - 1e-9) * step; at <= hi + step * 1e-9; at += step) {
    out.push_back(std::abs(at) < step * 1e-9 ? 0 : at);
  }
  return out;
}

}  // namespace fairlead::reports
