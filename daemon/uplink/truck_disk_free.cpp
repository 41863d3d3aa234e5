// The part of TruckDisk that frees what the base keeps, and says what is lost when it is asked for
// after all.
#include <fmt/format.h>

#include <algorithm>

#include "daemon/uplink/recovery.h"
#include "daemon/uplink/truck_disk.h"
#include "daemon/watch/stamp.h"

namespace fairlead::uplink {
namespace {

constexpr const char* kReceiptsValue = "receipts";
constexpr int64_t kDayUs = 86'400'000'000;
constexpr int kMostMarks = 400;  // Longer than the longest policy.
constexpr size_t kAtOnce = 1'000, kMostFreed = 100'000;

}  // namespace

Status TruckDisk::keep_receipt(const v1::Receipt& receipt) {
  ledger::Ledger* own = ledger();
  if (own == nullptr) return {};
  const int64_t now_us = watch::wall_now_us();
  std::unique_lock lock(mutex_);
  auto& marks = *receipts_.mutable_mark();
  const bool today = !marks.empty() && marks.rbegin()->epoch() == receipt.epoch() &&
                     now_us - marks.rbegin()->at_us() < kDayUs && now_us >= marks.rbegin()->at_us();
  if (today) return {};
  v1::Receipts::Mark& mark = *marks.Add();
  mark.set_at_us(now_us);
  mark.set_epoch(receipt.epoch());
  mark.set_seq(receipt.seq());
  mark.set_leaf(receipt.leaf_index());
  if (marks.size() > kMostMarks) marks.DeleteSubrange(0, marks.size() - kMostMarks);
  const std::string bytes = receipts_.SerializeAsString();
  lock.unlock();  // Never held while the ledger is waited for.
  return own->put_value(kReceiptsValue, bytes);
}

Result<uint64_t> TruckDisk::free_held(const RetentionConfig& policy, int64_t now_us) {
  ledger::Ledger* own = ledger();
  if (own == nullptr || !policy.on) return 0;
  const auto tip = own_tip();
  if (!tip) return std::unexpected(tip.error());
  uint64_t upto = 0;
  std::string bytes;
  {
    const std::lock_guard lock(mutex_);
    if (held_epoch_ != tip->epoch) return 0;
    for (const v1::Receipts::Mark& mark : receipts_.mark()) {
      const bool cosigned = mark.leaf() < cosigned_size_;
      const int64_t days = cosigned ? policy.truck_cosigned_days : policy.truck_days;
      if (mark.epoch() == tip->epoch && mark.at_us() <= now_us - days * kDayUs)
        upto = std::max(upto, mark.seq());
    }
    upto = std::min(upto, held_seq_);
    if (upto == 0) return 0;
    if (receipts_.freed_epoch() != tip->epoch || receipts_.freed_seq() < upto) {
      receipts_.set_freed_epoch(tip->epoch);
      receipts_.set_freed_seq(upto);
      bytes = receipts_.SerializeAsString();
    }
  }
  // On disk before anything goes: what is missing later is known to have been freed.
  if (!bytes.empty()) {
    if (auto ok = own->put_value(kReceiptsValue, bytes); !ok) return std::unexpected(ok.error());
  }
  uint64_t freed = 0;
  while (freed < kMostFreed) {
    const auto more = own->free_bodies(device_id_, upto, kAtOnce);
    if (!more) return std::unexpected(more.error());
    freed += *more;
    if (*more < kAtOnce) break;
  }
  return freed;
}

Result<std::set<uint64_t>> TruckDisk::said_lost(uint32_t epoch) const {
  constexpr size_t kPage = 1'000;
  std::set<uint64_t> out;
  for (uint64_t from = 0;;) {
    const auto page = ledger()->entries_of_kind(record::Kind::kGap, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const ledger::StoredEntry& entry : *page) {
      v1::GapBody gap;
      if (!gap.ParseFromString(entry.body)) continue;
      for (int i = 0; i < std::min(gap.lost_body_epoch_size(), gap.lost_body_seq_size()); ++i) {
        if (gap.lost_body_epoch(i) == epoch) out.insert(gap.lost_body_seq(i));
      }
    }
    if (page->size() < kPage) return out;
    from = page->back().leaf + 1;
  }
}

Status TruckDisk::say_lost(uint32_t epoch, uint64_t acked_seq) {
  uint64_t upto = 0;
  {
    const std::lock_guard lock(mutex_);
    if (receipts_.freed_epoch() == epoch) upto = receipts_.freed_seq();
  }
  if (acked_seq >= upto) return {};
  const auto said = said_lost(epoch);
  if (!said) return std::unexpected(said.error());
  std::vector<uint64_t> lost;
  for (uint64_t from = acked_seq + 1; from <= upto;) {
    const auto page = entries_from(epoch, from, 256);
    if (!page) return std::unexpected(page.error());
    if (page->empty()) break;
    for (const OwnEntry& entry : *page) {
      if (entry.seq <= upto && entry.erased && !said->contains(entry.seq))
        lost.push_back(entry.seq);
    }
    from = page->back().seq + 1;
  }
  std::vector<ledger::OwnEntry> batch;
  for (std::string& body : lost_bodies(epoch, lost, watch::wall_now_us()))
    batch.push_back(own_entry(record::Kind::kGap, {}, std::move(body)));
  return append_own(std::move(batch));
}

}  // namespace fairlead::uplink
