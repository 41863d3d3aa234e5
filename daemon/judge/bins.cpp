#include "daemon/judge/bins.h"

#include <algorithm>

#include "daemon/judge/whole_math.h"

namespace fairlead::judge {

std::optional<Bin> bin_of(const Series& series, int64_t from_us, int64_t to_us, int64_t phase_from,
                          int64_t phase_to) {
  const int64_t clip_from = std::max(from_us, phase_from), clip_to = std::min(to_us, phase_to);
  Wide sum = 0, lo = 0, hi = 0;
  int64_t covered = 0, extreme = -1;
  Bin bin{.from_us = from_us, .to_us = to_us};
  auto piece = std::upper_bound(series.pieces.begin(), series.pieces.end(), clip_from,
                                [](int64_t time, const Piece& one) { return time < one.to_us; });
  for (; piece != series.pieces.end() && piece->from_us < clip_to; ++piece) {
    const int64_t span = std::min(piece->to_us, clip_to) - std::max(piece->from_us, clip_from);
    sum += static_cast<Wide>(piece->value) * span;
    lo += static_cast<Wide>(piece->lo) * span;
    hi += static_cast<Wide>(piece->hi) * span;
    covered += span;
    bin.sd_milli = std::max(bin.sd_milli, piece->sd_milli);
    if (std::abs(piece->value) > extreme) {
      extreme = std::abs(piece->value);
      bin.line = piece->line;
      bin.line_us = std::max(piece->from_us, clip_from);
    }
  }
  if (covered <= 0 || covered * 2 < to_us - from_us) return std::nullopt;
  bin.mean_milli = floor_div(sum * 2000 + covered, 2 * static_cast<Wide>(covered));
  bin.lo_milli = floor_div(lo * 1000, covered);
  bin.hi_milli = ceil_div(hi * 1000, covered);
  return bin;
}

std::optional<Bin> BinWalk::next(int64_t& start_us, int64_t until_us) {
  const auto& pieces = series_.pieces;
  while (start_us < to_us_) {
    // A stretch without a reading is skipped whole, however long the record says it was.
    const auto piece =
        std::upper_bound(pieces.begin(), pieces.end(), start_us,
                         [](int64_t time, const Piece& one) { return time < one.to_us; });
    if (piece == pieces.end()) return std::nullopt;
    int64_t start = start_us;
    if (piece->from_us >= start + length_us_)
      start += (piece->from_us - start) / length_us_ * length_us_;
    if (start + length_us_ > until_us) return std::nullopt;
    start_us = start + length_us_;
    if (auto bin = bin_of(series_, start, start + length_us_, from_us_, to_us_)) return bin;
  }
  return std::nullopt;
}

}  // namespace fairlead::judge
