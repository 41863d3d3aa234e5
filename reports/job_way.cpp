#include "reports/job_way.h"

#include <algorithm>
#include <map>

#include "daemon/base/time_text.h"

namespace fairlead::reports {
namespace {

constexpr int64_t kApart_us = 10'000'000;
constexpr double kPullOn_N = 300, kPullOff_N = 150;

struct Reading {
  int64_t time_us = 0;
  double value = 0;
  bool operator<(const Reading& other) const { return time_us < other.time_us; }
};
using BySource = std::map<std::string, std::vector<Reading>>;

bool is_good(const v1::Observation& line) {
  return !line.has_quality() || line.quality() == v1::Quality::UNSET ||
         line.quality() == v1::Quality::GOOD;
}

void collect(const JobRecord& record, BySource& speeds, BySource& pulls) {
  for (const auto& line : record.lines) {
    const bool pull = line.has_sample() && line.sample().signal() == "line.pull";
    if ((!pull && !line.has_fix()) || !is_good(line)) continue;
    const auto time = parse_time_us(line.time());
    if (!time) continue;
    if (pull) pulls[line.source()].push_back({*time, line.sample().value()});
    if (line.has_fix() && line.fix().mode() >= 2)
      speeds[line.source()].push_back({*time, line.fix().speed_mps()});
  }
  for (auto* all : {&speeds, &pulls}) {
    for (auto& [source, readings] : *all) std::stable_sort(readings.begin(), readings.end());
  }
}

// The source that said most; of equals the first by name.
const std::vector<Reading>* fullest(const BySource& all) {
  const std::vector<Reading>* best = nullptr;
  for (const auto& [source, readings] : all) {
    if (best == nullptr || readings.size() > best->size()) best = &readings;
  }
  return best;
}

void add_span(const std::vector<Reading>& speeds, const Stretch& span, double& metres,
              int64_t& unseen_us, bool& any) {
  int64_t seen_us = 0;
  for (size_t i = 1; i < speeds.size(); ++i) {
    const auto &a = speeds[i - 1], &b = speeds[i];
    if (a.time_us < span.from_us || b.time_us > span.to_us) continue;
    const int64_t apart_us = b.time_us - a.time_us;
    if (apart_us > kApart_us) continue;
    any = true;
    seen_us += apart_us;
    metres += (a.value + b.value) / 2 * static_cast<double>(apart_us) / 1e6;
  }
  const int64_t all_us = span.to_us - span.from_us;
  if (all_us - seen_us > 2 * kApart_us) unseen_us += all_us - seen_us;
}

int64_t winched(const std::vector<Reading>& pulls) {
  int64_t sum_us = 0;
  bool on = false;
  for (size_t i = 1; i < pulls.size(); ++i) {
    const auto &a = pulls[i - 1], &b = pulls[i];
    on = a.value >= kPullOn_N || (on && a.value >= kPullOff_N);
    if (on && b.time_us - a.time_us <= kApart_us) sum_us += b.time_us - a.time_us;
  }
  return sum_us;
}

}  // namespace

JobWay job_way(const JobRecord& record, const JobFacts& facts) {
  BySource speeds, pulls;
  collect(record, speeds, pulls);
  JobWay out;
  if (const auto* readings = fullest(pulls)) out.winched_us = winched(*readings);
  const auto* readings = fullest(speeds);
  if (readings == nullptr) return out;
  double metres = 0;
  bool any = false;
  for (const Stretch& span : facts.aboard) add_span(*readings, span, metres, out.unseen_us, any);
  if (any) out.loaded_km = metres / 1000;
  return out;
}

}  // namespace fairlead::reports
