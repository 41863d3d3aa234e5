// What one judging of a running job leaves for the next: work over stretches that nothing coming in
// order can change. Without it everything is worked out from the record; with it the same comes
// out.
//
// Threads: one at a time.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "daemon/judge/bin_tally.h"
#include "daemon/physics/roll_tag.h"

namespace fairlead::judge {

/// How much later than the newest line others may still come without costing anything.
constexpr int64_t kLateUs = 10'000'000;

class KeptWork {
 public:
  /// The stay that `key` describes, with all that decides its bins; a new one begins at `fresh`.
  /// Changes before `reach_us` after its end make it void. Good until the next call.
  TalliedStay& stay(const std::string& key, const TalliedStay& fresh, int64_t reach_us);
  void forget_stay(const std::string& key) { stays_.erase(key); }
  /// physics::tag_way(), worked out once for the same fixes and pulls.
  const std::optional<physics::TagWay>& tag_way(const std::vector<physics::TagFix>& fixes,
                                                const std::vector<physics::TagPull>& pulls);
  /// The lines have grown: all that stood before `changed_from_us` stands.
  void follow(int64_t changed_from_us);

 private:
  struct Stay {
    TalliedStay tallied;
    int64_t reach_us = 0;
  };
  struct Way {
    std::vector<physics::TagFix> fixes;
    std::vector<physics::TagPull> pulls;
    std::optional<physics::TagWay> way;
  };
  std::map<std::string, Stay> stays_;
  std::vector<Way> ways_;  // The newest last.
};

}  // namespace fairlead::judge
