#include "daemon/judge/bin_tally.h"

#include <algorithm>

namespace fairlead::judge {

void BinTally::add(const BinTally& later) {
  const auto least = [](std::optional<int64_t>& a, const std::optional<int64_t>& b) {
    if (b && (!a || *b < *a)) a = b;
  };
  least(margin.lo, later.margin.lo);
  least(margin.hi, later.margin.hi);
  if (later.margin.best && (!margin.best || *later.margin.best < *margin.best)) {
    margin.best = later.margin.best;
    value = later.value;
    limit = later.limit;
    worst = later.worst;
  }
  doubts.insert(later.doubts.begin(), later.doubts.end());
  any = any || later.any;
  lo_known = lo_known && later.lo_known;
  unsure_outside = unsure_outside || later.unsure_outside;
  too_close = too_close || later.too_close;
  scatters_more = scatters_more || later.scatters_more;
}

}  // namespace fairlead::judge
