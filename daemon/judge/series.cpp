#include "daemon/judge/series.h"

#include <algorithm>

#include "daemon/judge/whole_math.h"

namespace fairlead::judge {

const Piece* Series::at(int64_t time_us) const {
  const auto after =
      std::upper_bound(pieces.begin(), pieces.end(), time_us,
                       [](int64_t time, const Piece& piece) { return time < piece.from_us; });
  if (after == pieces.begin()) return nullptr;
  const Piece& piece = *std::prev(after);
  return time_us < piece.to_us ? &piece : nullptr;
}

std::vector<Hole> Series::holes(int64_t from_us, int64_t to_us) const {
  std::vector<Hole> found;
  int64_t known_to = from_us;
  auto piece = std::upper_bound(pieces.begin(), pieces.end(), from_us,
                                [](int64_t time, const Piece& one) { return time < one.to_us; });
  for (; piece != pieces.end() && piece->from_us < to_us; ++piece) {
    if (piece->from_us > known_to) found.push_back({known_to, piece->from_us, Reason::kNoData});
    known_to = std::max(known_to, piece->to_us);
  }
  if (known_to >= to_us) return found;
  const bool later_line = piece != pieces.end();
  const Reason why = later_line || pieces.empty() ? Reason::kNoData : after_last;
  found.push_back({known_to, to_us, why});
  return found;
}

Interval interval_of(const Piece& piece) {
  const int64_t u = ceil_div(static_cast<Wide>(piece.sd_milli) * kUPerMille, 1'000'000);
  return {piece.lo - u, piece.value, piece.hi + u};
}

}  // namespace fairlead::judge
