#include "daemon/sensors/inbox.h"

#include <utility>

namespace fairlead::sensors {

namespace {
// A batch weighs its readings and at least one, so that empty ones are bounded too.
size_t weight(const Inbox::Item& item) {
  const auto* batch = std::get_if<Inbox::Batch>(&item);
  return batch == nullptr ? 1 : 1 + static_cast<size_t>(batch->batch.readings_size());
}
}  // namespace

bool Inbox::push(Item item, std::function<void()> resume) {
  std::lock_guard lock(mutex_);
  readings_ += weight(item);
  items_.push_back(std::move(item));
  if (readings_ < kMaxReadings || !resume) return true;
  resume_ = std::move(resume);
  return false;
}

std::optional<Inbox::Item> Inbox::pop() {
  std::function<void()> resume;
  std::optional<Item> item;
  {
    std::lock_guard lock(mutex_);
    if (items_.empty()) return std::nullopt;
    item = std::move(items_.front());
    items_.pop_front();
    readings_ -= weight(*item);
    if (readings_ < kMaxReadings / 2) resume = std::exchange(resume_, nullptr);
  }
  if (resume) resume();
  return item;
}

bool Inbox::empty() const {
  std::lock_guard lock(mutex_);
  return items_.empty();
}

}  // namespace fairlead::sensors
