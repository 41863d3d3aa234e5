#include "daemon/judge/undone.h"

#include <ranges>

#include "daemon/judge/line_facts.h"

namespace fairlead::judge {

std::set<std::pair<std::string, uint32_t>> undone_lines(
    const std::vector<const v1::Observation*>& lines) {
  using Key = std::pair<std::string, uint32_t>;
  std::set<Key> undone;
  // The last one stands; each before it unless one that stands took it back.
  for (const v1::Observation* line : std::views::reverse(lines)) {
    if (!line->has_undo() || undone.contains({line->source(), line->seq()})) continue;
    const Key taken{line->undo().source(), line->undo().seq()};
    if (!is_person(line->source()) || is_person(taken.first)) undone.insert(taken);
  }
  return undone;
}

}  // namespace fairlead::judge
