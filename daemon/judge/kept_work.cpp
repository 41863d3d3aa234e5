#include "daemon/judge/kept_work.h"

#include <algorithm>

namespace fairlead::judge {
namespace {

constexpr size_t kMostStays = 512, kMostWays = 16;

}  // namespace

TalliedStay& KeptWork::stay(const std::string& key, const TalliedStay& fresh, int64_t reach_us) {
  if (stays_.size() >= kMostStays && !stays_.contains(key)) stays_.clear();
  return stays_.try_emplace(key, Stay{fresh, reach_us}).first->second.tallied;
}

const std::optional<physics::TagWay>& KeptWork::tag_way(
    const std::vector<physics::TagFix>& fixes, const std::vector<physics::TagPull>& pulls) {
  const auto same = [&](const Way& one) { return one.pulls == pulls && one.fixes == fixes; };
  const auto known = std::ranges::find_if(ways_, same);
  if (known != ways_.end()) {
    std::rotate(known, known + 1, ways_.end());
    return ways_.back().way;
  }
  if (ways_.size() >= kMostWays) ways_.erase(ways_.begin());
  ways_.push_back({fixes, pulls, physics::tag_way(fixes, pulls)});
  return ways_.back().way;
}

void KeptWork::follow(int64_t changed_from_us) {
  std::erase_if(stays_, [&](const auto& entry) {
    const Stay& stay = entry.second;
    return stay.tallied.until_us + stay.reach_us > changed_from_us;
  });
}

}  // namespace fairlead::judge
