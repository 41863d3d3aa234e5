#include "daemon/judge/instrument_lasting.h"

#include <algorithm>

namespace fairlead::judge {
namespace {

Stamp measured_at(const JobLines& lines, int line, int64_t time_us) {
  Stamp stamp = line == kNoLine ? Stamp{} : lines.line(line).stamp;
  stamp.time_us = time_us;
  stamp.basis = Basis::kMeasured;
  return stamp;
}

}  // namespace

bool run_lasts(const std::vector<Piece>& pieces, size_t i, const Lasting& wanted) {
  const int64_t start_us = pieces[i].from_us;
  for (; i < pieces.size() && wanted.condition(pieces[i]); ++i) {
    if (pieces[i].to_us - start_us >= wanted.for_us) return true;
    if (i + 1 < pieces.size() && pieces[i + 1].from_us > pieces[i].to_us) return false;
  }
  return false;
}

Timeline timeline_of_pieces(const Series& series, const JobLines& lines, Tri initial,
                            const std::function<Tri(size_t)>& value, Begun* begun, bool* now) {
  Timeline timeline(initial);
  size_t first = 0, keep_at = series.pieces.size();
  if (begun != nullptr) {
    const auto index_of = [&](int64_t from_us) {
      return static_cast<size_t>(
          std::ranges::lower_bound(series.pieces, from_us, {}, &Piece::from_us) -
          series.pieces.begin());
    };
    first = index_of(begun->to_us);
    if (first > 0) timeline = begun->timeline;
    if (first > 0 && now != nullptr) *now = begun->now;
    // Some time before the newest reading, as others may still come late.
    const size_t old = index_of(lines.end_us() - 2 * kLongestRunUs);
    keep_at = old > 0 ? old - 1 : keep_at;
  }
  for (size_t i = first; i < series.pieces.size(); ++i) {
    const Piece& piece = series.pieces[i];
    if (i == keep_at) *begun = {timeline, piece.from_us, now != nullptr && *now};
    if (const Tri here = value(i); timeline.changes_to(here, piece.from_us))
      timeline.append({measured_at(lines, piece.line, piece.from_us), here, Reason::kNone});
    const bool last = i + 1 == series.pieces.size();
    if (!last && series.pieces[i + 1].from_us <= piece.to_us) continue;
    if (last && piece.to_us >= lines.end_us()) continue;
    timeline.append({measured_at(lines, piece.line, piece.to_us), Tri::kUnknown,
                     last ? series.after_last : Reason::kNoData});
  }
  return timeline;
}

Timeline lasting_timeline(const Series& series, const JobLines& lines, const Lasting& on,
                          const Lasting& off, Begun* begun) {
  bool now = false;
  const auto value = [&](size_t i) {
    const Lasting& change = now ? off : on;
    if (run_lasts(series.pieces, i, change)) now = !now;
    return now ? Tri::kTrue : Tri::kFalse;
  };
  return timeline_of_pieces(series, lines, Tri::kUnknown, value, begun, &now);
}

}  // namespace fairlead::judge
