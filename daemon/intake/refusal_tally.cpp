#include "daemon/intake/refusal_tally.h"

#include <limits>

namespace fairlead::intake {
namespace {

constexpr int64_t kHourUs = 3'600'000'000;

// The hour a clock before 1970 stands in is the one before, too.
int64_t hour_of(int64_t now_us) {
  const int64_t rest = ((now_us % kHourUs) + kHourUs) % kHourUs;
  return now_us - rest;
}

}  // namespace

void RefusalTally::add(v1::RefusedBody refused, int64_t now_us) {
  close_hours(now_us);
  const std::string key = refused.device_id() + refused.reason();
  if (const auto it = open_.find(key); it != open_.end()) {
    v1::RefusedBody& open = it->second;
    if (open.count() == 0) open.set_first_seq(refused.first_seq());
    open.set_count(open.count() + 1);
    return;
  }
  refused.set_hour_us(hour_of(now_us));
  refused.set_count(1);
  write_(refused);
  refused.set_count(0);
  open_.emplace(key, std::move(refused));
}

void RefusalTally::close_hours(int64_t now_us) {
  std::erase_if(open_, [&](const auto& item) {
    const v1::RefusedBody& open = item.second;
    if (open.hour_us() == hour_of(now_us)) return false;
    if (open.count() > 0) write_(open);
    return true;
  });
}

void RefusalTally::close_all() {
  // Any other hour than those that are open.
  close_hours(std::numeric_limits<int64_t>::min() / 2);
}

}  // namespace fairlead::intake
