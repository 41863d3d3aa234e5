// 10: between which countersigned moments the job was recorded.
#include "clients/verify/steps.h"
#include "daemon/base/time_text.h"

namespace fairlead::verifier {
namespace {

/// Earliest cosignature of a head, Unix seconds.
std::optional<uint64_t> cosigned_at(const Head& head) {
  if (head.cosigned_s.empty()) return std::nullopt;
  return *std::min_element(head.cosigned_s.begin(), head.cosigned_s.end());
}

std::string time_words(std::optional<uint64_t> time_s) {
  // A cosignature's time is signed, but could be any number.
  constexpr uint64_t kLatest_s = 253'402'300'799;  // End of 9999.
  if (!time_s || *time_s > kLatest_s) return "unknown";
  return format_time_us(static_cast<int64_t>(*time_s) * 1'000'000);
}

void show_entry(const Case& c, const Item& item, const std::string& what, Verdicts& verdicts) {
  std::optional<uint64_t> not_before, not_after;
  for (const Head& head : c.heads) {
    const auto time_s = cosigned_at(head);
    if (!time_s) continue;
    if (head.checkpoint.size <= item.header.seen_size) not_before = time_s;
    if (head.checkpoint.size > item.raw->leaf && !not_after) not_after = time_s;
  }
  verdicts.add(10, Mark::kShown,
               what + ": not before " + time_words(not_before) + ", not after " +
                   time_words(not_after) + "; the device's clock says " +
                   format_time_us(item.header.wall_us));
}

}  // namespace

void show_brackets(const Case& c, Verdicts& verdicts) {
  if (!c.job) return;
  for (const Item& item : c.items) {
    if (item.header.device_id != c.job->device_id) continue;
    const auto place = record::place_of(item.header);
    if (place == c.job->open) show_entry(c, item, "job opened", verdicts);
    if (c.job->close && place == *c.job->close) show_entry(c, item, "job closed", verdicts);
  }
}

}  // namespace fairlead::verifier
