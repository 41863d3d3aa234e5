// 10, second half: when the files that the job pins were put on record, and what the device's own
// clock did meanwhile.
#include <algorithm>
#include <cstdlib>

#include "clients/verify/job_lines.h"
#include "clients/verify/steps.h"
#include "daemon/base/time_text.h"

namespace fairlead::verifier {
namespace {

const Item* opening_of(const Case& c) {
  const auto it = std::ranges::find_if(c.items, [&](const Item& item) {
    return item.header.device_id == c.job->device_id &&
           record::place_of(item.header) == c.job->open;
  });
  return it == c.items.end() ? nullptr : &*it;
}

// The last time before the job opened; else the first after it.
const Item* registered(const Case& c, const v1::Pin& pin, uint64_t open_leaf) {
  const Item* found = nullptr;
  for (const Item& item : c.items) {
    if (item.header.kind != record::Kind::kRegister || !item.signed_well) continue;
    const auto file = body_as<v1::RegisterFileBody>(item);
    if (!file || file->name() != pin.name()) continue;
    if (view_of(sha256(file->content())) != pin.sha256()) continue;
    if (found == nullptr || item.raw->leaf < open_leaf) found = &item;
  }
  return found;
}

}  // namespace

void show_files(const Case& c, Verdicts& verdicts) {
  const Item* opening = c.job ? opening_of(c) : nullptr;
  if (opening == nullptr) return;
  for (const v1::Pin& pin : job_pins(c)) {
    const Item* file = registered(c, pin, opening->raw->leaf);
    if (file == nullptr) {
      verdicts.add(10, Mark::kShown, pin.name() + ": the bundle does not show since when");
      continue;
    }
    const bool late = file->raw->leaf > opening->raw->leaf;
    verdicts.add(10, late ? Mark::kNote : Mark::kShown,
                 pin.name() +
                     (late ? ": put on record after the job was opened, at leaf "
                           : ": on record before the job was opened, at leaf ") +
                     std::to_string(file->raw->leaf) + "; the base's clock said " +
                     format_time_us(file->header.wall_us));
  }
}

void show_clock_steps(const Case& c, Verdicts& verdicts) {
  if (!c.job) return;
  for (const Item& item : c.items) {
    if (item.header.kind != record::Kind::kClock || item.header.device_id != c.job->device_id)
      continue;
    const auto place = record::place_of(item.header);
    if (place < c.job->open || (c.job->close && place > *c.job->close)) continue;
    const auto step = body_as<v1::ClockBody>(item);
    if (!step) continue;
    verdicts.add(10, Mark::kShown,
                 "the device's clock, which should have said " +
                     format_time_us(step->expected_wall_us()) + ", said " +
                     format_time_us(step->wall_us()) + " from leaf " +
                     std::to_string(item.raw->leaf) + " on");
  }
}

}  // namespace fairlead::verifier
