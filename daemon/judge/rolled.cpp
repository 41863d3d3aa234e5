#include "daemon/judge/rolled.h"

#include <algorithm>

#include "daemon/base/exact_math.h"
#include "daemon/judge/rolled_parts.h"
#include "daemon/judge/tag_fixes.h"
#include "daemon/judge/vocabulary.h"
#include "daemon/judge/whole_math.h"
#include "daemon/physics/roll_rope.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kRootTwoMicro = 1'414'214;
constexpr int64_t kFastestTruckMmS = 40'000;

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

// How long of the hole the truck surely stood, by another word than its speed.
int64_t stood_us(JobView& view, const Hole& hole) {
  const Timeline& moving = view.facts.fact("truck.moving");
  int64_t stood = 0, since_us = kBeginning;
  Tri value = moving.initial();
  const auto count = [&](int64_t until_us) {
    if (value == Tri::kFalse)
      stood +=
          std::max<int64_t>(0, std::min(until_us, hole.to_us) - std::max(since_us, hole.from_us));
  };
  for (const Change& change : moving.changes()) {
    count(change.at.time_us);
    since_us = change.at.time_us;
    value = change.value;
  }
  count(kForever);
  return stood;
}

Total by_rope(JobView& view, const std::vector<PhaseSpan>& rolling, int64_t longest_hole_us) {
  const Series& out = view.quantities.series("line.out", longest_hole_us, 0);
  Total total{.mm = {0, 0, 0}, .doubts = {}, .origin = "rope counter"};
  Wide square = 0;
  int64_t hole_us = 0;
  for (const PhaseSpan& span : rolling) {
    std::vector<int64_t> values;
    int64_t sd_milli = 0;
    for (const Piece& piece : out.within(span.open.time_us, span.close.time_us + 1)) {
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

bool apart(const Total& a, const Total& b) {
  if (!a.mm.lo || !a.mm.hi || !b.mm.lo || !b.mm.hi || !a.doubts.empty() || !b.doubts.empty())
    return false;
  return *a.mm.hi < *b.mm.lo || *b.mm.hi < *a.mm.lo;
}

// Whether the tag's (`a`, both ends or neither) is the one to take beside the rope's (no upper end
// where a hole has none): free of doubts where that is not, or else the narrower.
bool tighter(const Total& a, const Total& b) {
  if (!a.mm.lo) return false;
  if (a.doubts.empty() != b.doubts.empty()) return a.doubts.empty();
  return !b.mm.hi || *a.mm.hi - *a.mm.lo < *b.mm.hi - *b.mm.lo;
}

}  // namespace

Total rolled(JobView& view, const std::vector<PhaseSpan>& rolling, int64_t longest_hole_us) {
  const bool rope = view.quantities.series("line.out", longest_hole_us, 0).named;
  const bool tag = has_tag_fixes(view.lines);
  if (!rope && !tag) return rolled_by_winch(view, rolling);
  if (!rope) return rolled_by_tag(view, rolling, longest_hole_us);
  Total from_rope = by_rope(view, rolling, longest_hole_us);
  if (!tag) return from_rope;
  const Total from_tag = rolled_by_tag(view, rolling, longest_hole_us);
  if (apart(from_rope, from_tag) || tag_held_at_zero(view, rolling)) {
    from_rope.doubts.insert(Reason::kSourcesDisagree);
    if (from_tag.mm.lo) from_rope.mm.lo = std::min(*from_rope.mm.lo, *from_tag.mm.lo);
    if (from_rope.mm.hi && from_tag.mm.hi)
      from_rope.mm.hi = std::max(*from_rope.mm.hi, *from_tag.mm.hi);
    return from_rope;
  }
  return tighter(from_tag, from_rope) ? from_tag : from_rope;
}

Total driven(JobView& view, const std::vector<PhaseSpan>& driving, int64_t longest_hole_us) {
  if (longest_hole_us == 0) longest_hole_us = find_quantity("truck.driven")->longest_hole_us;
  const Series& speed = view.quantities.series("truck.speed", longest_hole_us, 0);
  Total total{.mm = {0, 0, 0}, .doubts = {}, .origin = "truck's receiver"};
  Wide way = 0, square = 0;
  int64_t hole_us = 0;
  for (const PhaseSpan& span : driving) {
    int64_t covered_us = 0, sd_milli = 0;
    for (const Piece& piece : speed.within(span.open.time_us, span.close.time_us)) {
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
      const int64_t length_us = hole.to_us - hole.from_us - stood_us(view, hole);
      if (length_us > 0) total.doubts.insert(hole.reason);
      hole_us += length_us;
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

Total total_of(JobView& view, const std::string& quantity, const std::vector<PhaseSpan>& spans,
               int64_t longest_hole_us) {
  const auto measured = [&](const std::vector<PhaseSpan>& parts) {
    return quantity == "truck.driven" ? driven(view, parts, longest_hole_us)
                                      : rolled(view, parts, longest_hole_us);
  };
  Total total = measured(spans);
  std::vector<PhaseSpan> wide, narrow;
  int64_t width_us = 0;
  for (const PhaseSpan& span : spans) {
    const auto opens = view.lines.clock_width_us(view.quantities.sources(quantity), span.open);
    const auto closes = view.lines.clock_width_us(view.quantities.sources(quantity), span.close);
    if (!opens || !closes) {
      total.mm.lo = total.mm.hi = std::nullopt;
      total.doubts.insert(Reason::kClockDoubt);
      return total;
    }
    width_us = std::max({width_us, *opens, *closes});
    wide.push_back(span);
    wide.back().open.time_us -= *opens;
    wide.back().close.time_us += *closes;
    narrow.push_back(span);
    narrow.back().open.time_us += *opens;
    narrow.back().close.time_us -= *closes;
  }
  if (width_us == 0) return total;
  total.by_noise = total.mm;
  std::erase_if(narrow,
                [](const PhaseSpan& span) { return span.open.time_us >= span.close.time_us; });
  const Total most = measured(wide);
  total.doubts.insert(most.doubts.begin(), most.doubts.end());
  if (!most.mm.hi || !total.mm.hi)
    total.mm.hi.reset();
  else
    total.mm.hi = std::max(*total.mm.hi, *most.mm.hi);
  if (!total.mm.lo) return total;
  const Total least =
      narrow.empty() ? Total{.mm = {0, 0, 0}, .doubts = {}, .origin = ""} : measured(narrow);
  total.mm.lo = std::min(*total.mm.lo, least.mm.lo.value_or(0));
  return total;
}

}  // namespace fairlead::judge
