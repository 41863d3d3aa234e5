// Way rolled, from the tag on the car.
#include <fmt/format.h>

#include <algorithm>
#include <optional>

#include "daemon/judge/kept_work.h"
#include "daemon/judge/rolled_parts.h"
#include "daemon/judge/tag_fixes.h"
#include "daemon/physics/roll_tag.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kRestUs = 300'000'000;  // Rest around the pulls that still tells the noise.
constexpr int64_t kHeldUs = 3'000'000;    // A speed of exactly 0.0 this long is a receiver's own.
constexpr int64_t kRopeMovesMm = 300;
constexpr size_t kNamed = 4;  // Fixes set aside that a sentence names.

// Parts of the rolling spans in which the line pulls; the spans themselves without a load cell.
std::vector<physics::TagPull> pulls_of(JobView& view, const std::vector<PhaseSpan>& rolling) {
  std::vector<physics::TagPull> pulls;
  const Timeline& pulling = view.facts.fact("line.pulling");
  for (const PhaseSpan& span : rolling) {
    if (!pulling.named()) {
      pulls.push_back({span.open.time_us, span.close.time_us, true});
      continue;
    }
    int64_t from_us = span.open.time_us;
    bool on = pulling.at(from_us) != Tri::kFalse;
    for (const Change& change : pulling.changes()) {
      const int64_t at_us = change.at.time_us;
      if (at_us <= span.open.time_us || at_us >= span.close.time_us) continue;
      const bool next_on = change.value != Tri::kFalse;
      if (on && !next_on) pulls.push_back({from_us, at_us, true});
      if (!on && next_on) from_us = at_us;
      on = next_on;
    }
    if (on) pulls.push_back({from_us, span.close.time_us, true});
  }
  return pulls;
}

// The deck slides under the car: motion that is no rolling.
void add_deck_motion(JobView& view, int64_t from_us, int64_t to_us,
                     std::vector<physics::TagPull>& pulls) {
  const Timeline& deck = view.facts.fact("deck.moving");
  for (size_t i = 0; i < deck.changes().size(); ++i) {
    if (deck.changes()[i].value != Tri::kTrue) continue;
    const int64_t begin = std::max(from_us, deck.changes()[i].at.time_us);
    const int64_t end =
        std::min(to_us, i + 1 < deck.changes().size() ? deck.changes()[i + 1].at.time_us : to_us);
    const bool free = std::none_of(pulls.begin(), pulls.end(), [&](const auto& pull) {
      return pull.from_us < end && begin < pull.to_us;
    });
    if (begin < end && free) pulls.push_back({begin, end, false});
  }
  std::sort(pulls.begin(), pulls.end(),
            [](const auto& a, const auto& b) { return a.from_us < b.from_us; });
}

// The rest around the handling that the truck does not drive through.
std::pair<int64_t, int64_t> still_window(JobView& view, int64_t from_us, int64_t to_us) {
  int64_t begin = from_us - kRestUs, end = to_us + kRestUs;
  const Timeline& truck = view.facts.fact("truck.moving");
  for (size_t i = 0; i < truck.changes().size(); ++i) {
    if (truck.changes()[i].value != Tri::kTrue) continue;
    const int64_t on_us = truck.changes()[i].at.time_us;
    const int64_t off_us =
        i + 1 < truck.changes().size() ? truck.changes()[i + 1].at.time_us : kForever;
    if (off_us <= from_us) begin = std::max(begin, off_us);
    if (on_us >= to_us) end = std::min(end, on_us);
  }
  return {begin, end};
}

// A pull in which every reading of the speed is exactly 0.0, for 3 s or more.
struct Held {
  int64_t from_us = 0, to_us = 0;
};

std::optional<Held> held_pull(JobView& view, const std::vector<PhaseSpan>& rolling) {
  for (const physics::TagPull& pull : pulls_of(view, rolling)) {
    std::optional<Held> held;
    bool moved = false;
    for (const int index : fixes_in(view.lines, pull.from_us, pull.to_us)) {
      const JobLine& line = view.lines.line(index);
      const int64_t time_us = line.stamp.time_us;
      if (!is_tag_fix(line)) continue;
      moved = moved || line.observation->fix().speed_mps() != 0.0;
      if (!held) held = Held{time_us, time_us};
      held->to_us = time_us;
    }
    if (held && !moved && held->to_us - held->from_us >= kHeldUs) return held;
  }
  return std::nullopt;
}

std::string set_aside_words(const JobView& view, const TagFixes& fixes,
                            const std::vector<size_t>& set_aside) {
  if (set_aside.empty()) return "";
  std::string text = fmt::format(
      "{} of {} fixes lie too far off and were set aside:", set_aside.size(), fixes.fixes.size());
  for (size_t i = 0; i < set_aside.size() && i < kNamed; ++i) {
    const auto& line = *view.lines.line(fixes.lines[set_aside[i]]).observation;
    text += fmt::format("{} {} {}", i == 0 ? "" : ",", line.source(), line.seq());
  }
  return set_aside.size() > kNamed ? text + " and more" : text;
}

}  // namespace

Total rolled_by_tag(JobView& view, const std::vector<PhaseSpan>& rolling, int64_t longest_hole_us) {
  Total total{.mm = {}, .doubts = {}, .origin = "tag"};
  const int64_t from_us = rolling.front().open.time_us, to_us = rolling.back().close.time_us;
  const auto [begin, end] = still_window(view, from_us, to_us);
  const TagFixes fixes = tag_fixes(view.lines, begin, end);
  std::vector<physics::TagPull> pulls = pulls_of(view, rolling);
  total.last_line = fixes.last_line_before(to_us);
  const Series& speed = view.quantities.series("vehicle.speed", longest_hole_us, 0);
  for (const PhaseSpan& span : rolling) {
    for (const Hole& hole : speed.holes(span.open.time_us, span.close.time_us))
      total.doubts.insert(hole.reason);
  }
  if (held_pull(view, rolling)) {
    // Censored: the receiver says nothing of how the car moved meanwhile.
    total.doubts.insert(Reason::kNoData);
    total.remark = "the receiver held its speed at exactly 0.0";
  }
  if (pulls.empty()) {
    total.mm = {0, 0, 0};
    return total;
  }
  if (!fixes.fixes.empty()) {
    add_deck_motion(view, fixes.fixes.front().time_us, fixes.fixes.back().time_us, pulls);
  }
  const auto& way = view.kept.tag_way(fixes.fixes, pulls);
  if (!way) {
    total.doubts.insert(Reason::kNoData);
    return total;
  }
  total.mm = {way->lo_mm, way->best_mm, way->hi_mm};
  const std::string aside = set_aside_words(view, fixes, way->set_aside);
  if (!aside.empty()) total.remark += (total.remark.empty() ? "" : "; ") + aside;
  return total;
}

bool tag_held_at_zero(JobView& view, const std::vector<PhaseSpan>& rolling) {
  const auto held = held_pull(view, rolling);
  if (!held) return false;
  int64_t least = kForever, most = kBeginning, sd_milli = 0;
  for (const Piece& piece : view.quantities.series("line.out", 0, 0).pieces) {
    if (piece.to_us <= held->from_us || piece.from_us > held->to_us) continue;
    least = std::min(least, piece.value);
    most = std::max(most, piece.value);
    sd_milli = std::max(sd_milli, piece.sd_milli);
  }
  return most != kBeginning && most - least > kRopeMovesMm + 3 * sd_milli / 1000;
}

}  // namespace fairlead::judge
