#include "daemon/judge/rolled.h"

#include <algorithm>

#include "daemon/base/exact_math.h"
#include "daemon/judge/tag_fixes.h"
#include "daemon/judge/whole_math.h"
#include "daemon/physics/roll_rope.h"
#include "daemon/physics/roll_tag.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kRootTwoMicro = 1'414'214;
constexpr int64_t kFastestTruckMmS = 40'000;
constexpr int64_t kRestUs = 300'000'000;  // Rest around the pulls that still tells the noise.

// Noise of one difference of two counter readings, 95 % one-sided.
int64_t difference_u_mm(int64_t sd_milli) {
  return ceil_div(static_cast<Wide>(sd_milli) * kUPerMille * kRootTwoMicro, 1'000'000'000'000);
}

// How fast a hole can hide a total growing, where the procedure says so.
std::optional<int64_t> fastest_change_of(const JobView& view, const std::string& quantity) {
  const auto& stated = view.procedure.fastest_change_mm_s;
  const auto found = stated.find(quantity);
  return found == stated.end() ? std::nullopt : std::optional(found->second);
}

Total by_rope(JobView& view, const std::vector<PhaseSpan>& rolling, int64_t longest_hole_us) {
  const Series& out = view.quantities.series("line.out", longest_hole_us, 0);
  Total total{.mm = {0, 0, 0}, .doubts = {}, .origin = "rope counter"};
  Wide square = 0;
  int64_t hole_us = 0;
  for (const PhaseSpan& span : rolling) {
    std::vector<int64_t> values;
    int64_t sd_milli = 0;
    for (const Piece& piece : out.pieces) {
      if (piece.to_us <= span.open.time_us || piece.from_us > span.close.time_us) continue;
      values.push_back(piece.value);
      sd_milli = std::max(sd_milli, piece.sd_milli);
      total.last_line = piece.line;
    }
    const int64_t u_mm = difference_u_mm(sd_milli);
    const physics::RopeWay way = physics::rope_way(values, u_mm);
    *total.mm.best += way.best_mm;
    square += static_cast<Wide>(u_mm) * u_mm * way.chords;
    for (const Hole& hole : out.holes(span.possibly_from(), span.possibly_to())) {
      total.doubts.insert(hole.reason);
      hole_us += hole.to_us - hole.from_us;
    }
  }
  const int64_t u_mm = root_up(square);
  total.mm.lo = std::max<int64_t>(0, *total.mm.best - u_mm);
  total.mm.hi = *total.mm.best + u_mm;
  if (hole_us > 0) {
    // In a hole the winch may have gone on pulling at its line speed.
    std::optional<int64_t> fastest_mm_s = fastest_change_of(view, "vehicle.rolled");
    if (view.parties.truck != nullptr && view.parties.truck->line_speed_mm_s)
      fastest_mm_s =
          std::min(*view.parties.truck->line_speed_mm_s, fastest_mm_s.value_or(kForever));
    if (fastest_mm_s) {
      *total.mm.hi += ceil_div(static_cast<Wide>(*fastest_mm_s) * hole_us, 1'000'000);
    } else {
      total.mm.hi = std::nullopt;
    }
  }
  return total;
}

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

Total by_tag(JobView& view, const std::vector<PhaseSpan>& rolling, int64_t longest_hole_us) {
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
  if (pulls.empty()) {
    total.mm = {0, 0, 0};
    return total;
  }
  if (!fixes.fixes.empty()) {
    add_deck_motion(view, fixes.fixes.front().time_us, fixes.fixes.back().time_us, pulls);
  }
  const auto way = physics::tag_way(fixes.fixes, pulls);
  if (!way) {
    total.doubts.insert(Reason::kNoData);
    return total;
  }
  total.mm = {way->lo_mm, way->best_mm, way->hi_mm};
  return total;
}

bool apart(const Total& a, const Total& b) {
  if (!a.mm.lo || !a.mm.hi || !b.mm.lo || !b.mm.hi || !a.doubts.empty() || !b.doubts.empty())
    return false;
  return *a.mm.hi < *b.mm.lo || *b.mm.hi < *a.mm.lo;
}

}  // namespace

Total rolled(JobView& view, const std::vector<PhaseSpan>& rolling, int64_t longest_hole_us) {
  const bool rope = view.quantities.series("line.out", longest_hole_us, 0).named;
  const bool tag = has_tag_fixes(view.lines);
  if (!rope && !tag)
    return {
        .mm = {0, std::nullopt, std::nullopt}, .doubts = {Reason::kNoData}, .origin = "nothing"};
  if (!rope) return by_tag(view, rolling, longest_hole_us);
  Total from_rope = by_rope(view, rolling, longest_hole_us);
  if (!tag) return from_rope;
  const Total from_tag = by_tag(view, rolling, longest_hole_us);
  if (apart(from_rope, from_tag)) {
    from_rope.doubts.insert(Reason::kSourcesDisagree);
    from_rope.mm.lo = std::min(*from_rope.mm.lo, *from_tag.mm.lo);
    from_rope.mm.hi = std::max(*from_rope.mm.hi, *from_tag.mm.hi);
  }
  return from_rope;
}

Total driven(JobView& view, const std::vector<PhaseSpan>& driving, int64_t longest_hole_us) {
  const Series& speed = view.quantities.series("truck.speed", longest_hole_us, 0);
  Total total{.mm = {0, 0, 0}, .doubts = {}, .origin = "truck's receiver"};
  Wide way = 0, square = 0;
  int64_t hole_us = 0;
  for (const PhaseSpan& span : driving) {
    int64_t covered_us = 0, sd_milli = 0;
    for (const Piece& piece : speed.pieces) {
      const int64_t from_us = std::max(piece.from_us, span.open.time_us),
                    to_us = std::min(piece.to_us, span.close.time_us);
      if (from_us >= to_us) continue;
      way += static_cast<Wide>(piece.value) * (to_us - from_us);
      covered_us += to_us - from_us;
      sd_milli = std::max(sd_milli, piece.sd_milli);
      total.last_line = piece.line;
    }
    // s.d. of an integral of coloured noise: s.d. sqrt(2 tau T), in mm.
    const int64_t root_us = root_up(static_cast<Wide>(2) * speed.tau_us * covered_us);
    const int64_t sd_mm = ceil_div(static_cast<Wide>(sd_milli) * root_us, 1'000'000'000);
    square += static_cast<Wide>(sd_mm) * sd_mm;
    for (const Hole& hole : speed.holes(span.possibly_from(), span.possibly_to())) {
      total.doubts.insert(hole.reason);
      hole_us += hole.to_us - hole.from_us;
    }
  }
  total.mm.best = floor_div(way, 1'000'000);
  const int64_t u_mm = ceil_div(static_cast<Wide>(root_up(square)) * kUPerMille, 1000);
  total.mm.lo = std::max<int64_t>(0, *total.mm.best - u_mm);
  total.mm.hi = *total.mm.best + u_mm;
  // In a hole the truck may have driven on at its fastest.
  const int64_t fastest_mm_s = fastest_change_of(view, "truck.driven").value_or(kFastestTruckMmS);
  *total.mm.hi += ceil_div(static_cast<Wide>(fastest_mm_s) * hole_us, 1'000'000);
  return total;
}

}  // namespace fairlead::judge
