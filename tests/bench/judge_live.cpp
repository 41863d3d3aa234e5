#include "tests/bench/judge_live.h"

#include <malloc.h>

#include "daemon/base/time_text.h"
#include "daemon/judge/live_job.h"
#include "tests/bench/measure.h"

namespace fairlead::bench {
namespace {

size_t heap_bytes() {
  const auto info = mallinfo2();
  return info.uordblks + info.hblkhd;
}

}  // namespace

LiveCost run_live(const judge::Rulebook& rulebook, const std::vector<v1::Observation>& lines,
                  int64_t every_us) {
  LiveCost cost;
  const size_t before = heap_bytes();
  judge::LiveJob live(rulebook);
  int64_t next_us = 0;
  double adding_s = 0;
  for (size_t i = 0; i < lines.size(); ++i) {
    v1::Observation line = lines[i];
    const Stopwatch adding;
    live.add(std::move(line));
    adding_s += adding.wall_s();
    if (live.newest_us() < next_us && i + 1 < lines.size()) continue;
    next_us = live.newest_us() + every_us;
    const Stopwatch judging;
    const auto judged = live.judge();
    cost.judge_s.push_back(judging.wall_s());
    cost.add_s.push_back(adding_s);
    adding_s = 0;
    if (i + 1 < lines.size()) continue;
    for (const auto& finding : judged.findings)
      cost.findings += judge::finding_to_json(finding) + "\n";
  }
  cost.readings = live.readings();
  cost.state_bytes = heap_bytes() - before;
  return cost;
}

}  // namespace fairlead::bench
