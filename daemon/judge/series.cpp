#include "daemon/judge/series.h"

#include <algorithm>
#include <limits>
#include <utility>

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

std::span<const Piece> Series::within(int64_t from_us, int64_t to_us) const {
  const auto from = std::ranges::upper_bound(pieces, from_us, {}, &Piece::to_us);
  return {from, std::max(from, std::ranges::lower_bound(pieces, to_us, {}, &Piece::from_us))};
}

std::vector<Hole> Series::holes(int64_t from_us, int64_t to_us) const {
  return HoleWalk(from_us).holes(*this, to_us);
}

void HoleWalk::pass(const Series& series, int64_t to_us, int64_t until_us) {
  auto piece = std::upper_bound(series.pieces.begin(), series.pieces.end(), passed_us_,
                                [](int64_t time, const Piece& one) { return time < one.to_us; });
  for (; piece != series.pieces.end() && piece->from_us < to_us && piece->to_us <= until_us;
       ++piece) {
    if (piece->from_us > known_to_us_)
      found_.push_back({known_to_us_, piece->from_us, Reason::kNoData});
    known_to_us_ = std::max(known_to_us_, piece->to_us);
    passed_us_ = piece->to_us;
  }
}

std::vector<Hole> HoleWalk::holes(const Series& series, int64_t to_us) const {
  HoleWalk walk = *this;
  walk.pass(series, to_us, std::numeric_limits<int64_t>::max());
  std::vector<Hole> found = std::move(walk.found_);
  if (walk.known_to_us_ >= to_us) return found;
  const auto& pieces = series.pieces;
  const bool later_line = !pieces.empty() && pieces.back().from_us >= to_us;
  const Reason why = later_line || pieces.empty() ? Reason::kNoData : series.after_last;
  found.push_back({walk.known_to_us_, to_us, why});
  return found;
}

Interval interval_of(const Piece& piece) {
  const int64_t u = ceil_div(static_cast<Wide>(piece.sd_milli) * kUPerMille, 1'000'000);
  return {piece.lo - u, piece.value, piece.hi + u};
}

}  // namespace fairlead::judge
