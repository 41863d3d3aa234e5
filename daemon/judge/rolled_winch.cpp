// The way a car can have rolled at most, from the winch alone.
#include <algorithm>

#include "daemon/judge/rolled_parts.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {

Total rolled_by_winch(JobView& view, const std::vector<PhaseSpan>& rolling) {
  Total total{.mm = {0, std::nullopt, std::nullopt}, .doubts = {}, .origin = "nothing"};
  const Timeline& pulling = view.facts.fact("line.pulling");
  if (!pulling.named() || view.parties.truck == nullptr || !view.parties.truck->line_speed_mm_s) {
    total.doubts.insert(Reason::kNoData);
    return total;
  }
  total.origin = "winch's line speed and the time the line pulled";
  int64_t pulling_us = 0;
  for (const PhaseSpan& span : rolling) {
    const int64_t from_us = span.possibly_from(), to_us = span.possibly_to();
    if (const Reason why = pulling.unknown_reason(from_us, to_us); why != Reason::kNone)
      total.doubts.insert(why);
    int64_t begun_us = from_us;
    Tri now = pulling.at(from_us);
    for (const Change& change : pulling.changes()) {
      const int64_t at_us = std::min(change.at.time_us, to_us);
      if (at_us <= begun_us) continue;
      if (now != Tri::kFalse) pulling_us += at_us - begun_us;
      begun_us = at_us;
      now = change.value;
      total.last_line = change.at.time_us < to_us ? change.at.line : total.last_line;
    }
    if (now != Tri::kFalse) pulling_us += to_us - begun_us;
  }
  if (total.doubts.empty()) {
    total.mm.hi =
        ceil_div(static_cast<Wide>(*view.parties.truck->line_speed_mm_s) * pulling_us, 1'000'000);
  }
  return total;
}

}  // namespace fairlead::judge
