#include "daemon/judge/instrument_lasting.h"

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
                            const std::function<Tri(size_t)>& value) {
  Timeline timeline(initial);
  for (size_t i = 0; i < series.pieces.size(); ++i) {
    const Piece& piece = series.pieces[i];
    timeline.add({measured_at(lines, piece.line, piece.from_us), value(i), Reason::kNone});
    const bool last = i + 1 == series.pieces.size();
    if (!last && series.pieces[i + 1].from_us <= piece.to_us) continue;
    if (last && piece.to_us >= lines.end_us()) continue;
    timeline.add({measured_at(lines, piece.line, piece.to_us), Tri::kUnknown,
                  last ? series.after_last : Reason::kNoData});
  }
  timeline.normalize();
  return timeline;
}

Timeline lasting_timeline(const Series& series, const JobLines& lines, const Lasting& on,
                          const Lasting& off) {
  bool now = false;
  return timeline_of_pieces(series, lines, Tri::kUnknown, [&](size_t i) {
    const Lasting& change = now ? off : on;
    if (run_lasts(series.pieces, i, change)) now = !now;
    return now ? Tri::kTrue : Tri::kFalse;
  });
}

}  // namespace fairlead::judge
