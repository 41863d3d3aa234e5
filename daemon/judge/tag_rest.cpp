#include "daemon/judge/tag_rest.h"

#include <array>
#include <cmath>

#include "daemon/judge/tag_fixes.h"

namespace fairlead::judge {
namespace {

constexpr std::array kMoves{"line.pulling", "deck.moving", "wheels.on_skates", "mode.drive",
                            "mode.reverse"};

// True where it is known that nothing moves the car: what no line named did not happen, but for the
// truck, which may drive without a word.
Timeline rests(JobView& view) {
  Timeline moving = timeline_or(view.facts.fact("truck.moving"), view.facts.fact("rolling"));
  for (const char* name : kMoves) moving = timeline_or(moving, view.facts.fact(name).as_input());
  return timeline_not(moving);
}

}  // namespace

RestScatter tag_at_rest(JobView& view) {
  RestScatter scatter;
  const Timeline rest = rests(view);
  for (size_t i = 0; i < rest.changes().size(); ++i) {
    if (rest.changes()[i].value != Tri::kTrue) continue;
    const int64_t from_us = rest.changes()[i].at.time_us + kRestGuardUs;
    const int64_t to_us =
        i + 1 < rest.changes().size() ? rest.changes()[i + 1].at.time_us - kRestGuardUs : kForever;
    for (const int index : fixes_in(view.lines, from_us, to_us + 1)) {
      const JobLine& line = view.lines.line(index);
      if (!is_tag_fix(line) || line.observation->fix().speed_mps() == 0.0) continue;
      scatter.add(
          line.stamp.time_us,
          static_cast<int64_t>(std::floor(line.observation->fix().speed_mps() * 1000.0 + 0.5)));
    }
  }
  return scatter;
}

std::set<std::string> sources_of_rest(JobView& view) {
  std::set<std::string> sources = view.facts.sources("truck.moving");
  for (const char* name : kMoves) sources.merge(view.facts.sources(name));
  return sources;
}

}  // namespace fairlead::judge
