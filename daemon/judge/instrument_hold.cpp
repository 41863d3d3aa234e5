#include "daemon/judge/instrument_hold.h"

#include <algorithm>
#include <cstdlib>
#include <optional>

#include "daemon/judge/instrument_lasting.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kPullN = 500, kSlackN = 150;
constexpr int64_t kStillMm = 200, kMovedMm = 300;
constexpr int64_t kStillUs = 5'000'000, kSlackUs = 1'000'000;

}  // namespace

Timeline hold_timeline(const Series& pull, const Series& line_out, const JobLines& lines) {
  if (line_out.pieces.empty()) return Timeline(Tri::kUnknown);
  std::optional<int64_t> anchor_mm;  // Where the rope stood when it last began to stand.
  const auto rope_at = [&](const Piece& piece) -> std::optional<int64_t> {
    const Piece* at = line_out.at(piece.from_us);
    return at == nullptr ? std::nullopt : std::optional(at->value);
  };
  const Lasting on{[&](const Piece& piece) {
                     const auto out = rope_at(piece);
                     if (!out || piece.value < kPullN) return false;
                     if (!anchor_mm) anchor_mm = out;
                     return std::abs(*out - *anchor_mm) <= kStillMm;
                   },
                   kStillUs};
  const Lasting slack{[](const Piece& piece) { return piece.value < kSlackN; }, kSlackUs};
  // The run is tried from each reading anew, so the anchor is too.
  bool now = false;
  std::optional<int64_t> held_mm;
  return timeline_of_pieces(pull, lines, Tri::kUnknown, [&](size_t i) {
    if (!now) {
      anchor_mm.reset();
      now = run_lasts(pull.pieces, i, on);
      held_mm = anchor_mm;
    } else {
      const auto out = rope_at(pull.pieces[i]);
      const bool moved = out && held_mm && std::abs(*out - *held_mm) > kMovedMm;
      if (moved || run_lasts(pull.pieces, i, slack)) now = false;
    }
    return now ? Tri::kTrue : Tri::kFalse;
  });
}

}  // namespace fairlead::judge
