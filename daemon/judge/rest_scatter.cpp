#include "daemon/judge/rest_scatter.h"

#include <algorithm>

namespace fairlead::judge {
namespace {

constexpr int64_t kFewest = 10;

}  // namespace

void RestScatter::add(int64_t time_us, int64_t speed_mm_s) {
  const Wide before = sums_.empty() ? 0 : sums_.back().squares;
  sums_.push_back({time_us, before + static_cast<Wide>(speed_mm_s) * speed_mm_s});
}

std::optional<int64_t> RestScatter::sd_milli(int64_t from_us, int64_t to_us) const {
  const auto first =
      std::lower_bound(sums_.begin(), sums_.end(), from_us,
                       [](const Sum& sum, int64_t time) { return sum.time_us < time; });
  const auto past =
      std::upper_bound(sums_.begin(), sums_.end(), to_us,
                       [](int64_t time, const Sum& sum) { return time < sum.time_us; });
  const int64_t count = past - first;
  if (count < kFewest) return std::nullopt;
  const Wide squares =
      std::prev(past)->squares - (first == sums_.begin() ? Wide{0} : std::prev(first)->squares);
  const Wide million = squares * 1'000'000, both_axes = static_cast<Wide>(2) * count;
  return root_up(million / both_axes + (million % both_axes != 0));
}

}  // namespace fairlead::judge
