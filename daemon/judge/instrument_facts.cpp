#include "daemon/judge/instrument_facts.h"

#include <algorithm>
#include <cmath>

#include "daemon/judge/tag_fixes.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kOffBelowN = 150;
constexpr int64_t kOffForUs = 1'000'000;
constexpr int64_t kMovingMmS = 139;  // 0.5 km/h.
constexpr int64_t kMotionMm = 300;
constexpr int64_t kTiltStepMdeg = 500;
constexpr int64_t kAgreeUs = 5'000'000;

}  // namespace

Timeline contact_timeline(const Series& contact, const Timeline& word, const JobLines& lines,
                          const std::vector<std::pair<int64_t, bool>>& lid_words, bool for_lid) {
  const int64_t first_us = contact.pieces.front().from_us;
  const auto at_lid = [&](int64_t time_us) {
    bool lid = !lid_words.empty() && lid_words.front().second;
    for (const auto& [said_us, on_lid] : lid_words) {
      if (said_us <= time_us) lid = on_lid;
    }
    return lid;
  };
  Timeline timeline(word.initial());
  for (const Change& change : word.changes()) {
    if (change.at.time_us < first_us) timeline.add(change);
  }
  const Timeline measured = timeline_of_pieces(contact, lines, word.initial(), [&](size_t i) {
    const Piece& piece = contact.pieces[i];
    return piece.value != 0 && at_lid(piece.from_us) == for_lid ? Tri::kTrue : Tri::kFalse;
  });
  for (const Change& change : measured.changes()) timeline.add(change);
  timeline.normalize();
  return timeline;
}

Timeline pull_timeline(const Series& pull, const JobLines& lines, int64_t on_n, int64_t on_for_us,
                       Begun* begun) {
  return lasting_timeline(
      pull, lines, {[on_n](const Piece& piece) { return piece.value >= on_n; }, on_for_us},
      {[](const Piece& piece) { return piece.value < kOffBelowN; }, kOffForUs}, begun);
}

Timeline tilt_moving_timeline(const Series& tilt, const JobLines& lines) {
  return timeline_of_pieces(tilt, lines, Tri::kUnknown, [&](size_t i) {
    if (i + 1 >= tilt.pieces.size()) return Tri::kFalse;
    const int64_t step = tilt.pieces[i + 1].value - tilt.pieces[i].value;
    return step > kTiltStepMdeg || step < -kTiltStepMdeg ? Tri::kTrue : Tri::kFalse;
  });
}

Timeline moving_timeline(const Series& speed, const JobLines& lines, Begun* begun) {
  const auto value = [&](size_t i) {
    const Interval range = interval_of(speed.pieces[i]);
    if (*range.lo > kMovingMmS) return Tri::kTrue;
    return *range.hi <= kMovingMmS ? Tri::kFalse : Tri::kUnknown;
  };
  return timeline_of_pieces(speed, lines, Tri::kUnknown, value, begun);
}

Timeline motion_timeline(const Timeline& pulling, const Series& line_out) {
  Timeline timeline(Tri::kFalse);
  const auto& changes = pulling.changes();
  for (size_t i = 0; i < changes.size(); ++i) {
    const int64_t from_us = changes[i].at.time_us;
    const int64_t to_us = i + 1 < changes.size() ? changes[i + 1].at.time_us : kForever;
    if (changes[i].value == Tri::kUnknown && line_out.named) timeline.add(changes[i]);
    if (changes[i].value == Tri::kFalse) timeline.add(changes[i]);
    if (changes[i].value != Tri::kTrue) continue;
    const Piece* start = line_out.at(from_us);
    int64_t least = start == nullptr ? kForever : start->value,
            most = start == nullptr ? kBeginning : start->value;
    auto piece = std::ranges::lower_bound(line_out.pieces, from_us, {}, &Piece::from_us);
    for (; piece != line_out.pieces.end() && piece->from_us < to_us; ++piece) {
      least = std::min(least, piece->value);
      most = std::max(most, piece->value);
    }
    Change moved = changes[i];
    moved.value = most - least > kMotionMm && most != kBeginning ? Tri::kTrue : Tri::kFalse;
    moved.at.basis = Basis::kMeasured;
    timeline.add(moved);
  }
  timeline.normalize();
  return timeline;
}

Timeline tag_motion_timeline(const Timeline& pulling, const JobLines& lines) {
  Timeline timeline(Tri::kFalse);
  const auto& changes = pulling.changes();
  for (size_t i = 0; i < changes.size(); ++i) {
    Change change = changes[i];
    if (change.value == Tri::kTrue) {
      const int64_t to_us = i + 1 < changes.size() ? changes[i + 1].at.time_us : kForever;
      const TagFixes found = tag_fixes(lines, change.at.time_us, to_us);
      bool moved = false;
      for (const physics::TagFix& fix : found.fixes) {
        const physics::TagFix& start = found.fixes.front();
        const double east = fix.east_m - start.east_m, north = fix.north_m - start.north_m;
        const double noise_m =
            1.645 * std::sqrt(start.h_sd_m * start.h_sd_m + fix.h_sd_m * fix.h_sd_m);
        moved = moved || std::sqrt(east * east + north * north) - noise_m > kMotionMm / 1000.0;
      }
      change.value = moved ? Tri::kTrue : Tri::kUnknown;
      change.why_unknown = moved ? Reason::kNone : Reason::kNoData;
      change.at.basis = Basis::kMeasured;
    }
    timeline.add(change);
  }
  timeline.normalize();
  return timeline;
}

std::optional<int> contradicting_contact(const Series& contact, const Stamp& word, bool said_on) {
  std::optional<int> other;
  for (const Piece& piece : contact.pieces) {
    if (piece.to_us < word.time_us - kAgreeUs || piece.from_us > word.time_us + kAgreeUs) continue;
    if ((piece.value != 0) == said_on) return std::nullopt;
    other = piece.line;
  }
  return other;
}

}  // namespace fairlead::judge
