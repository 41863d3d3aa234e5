// The half of TruckDisk that keeps what the base says: enrolment, heads, orders, what it gave back.
#include <fmt/format.h>

#include <algorithm>

#include "daemon/base/key_file.h"
#include "daemon/record/generation.h"
#include "daemon/record/leaf.h"
#include "daemon/uplink/recovery.h"
#include "daemon/uplink/truck_disk.h"
#include "daemon/watch/stamp.h"

namespace fairlead::uplink {
namespace {

constexpr size_t kLongestMark = 256;
constexpr const char* kHeadValue = "seen_head";
constexpr const char* kCosignedValue = "cosigned_head";
constexpr const char* kRecoveriesValue = "recoveries";
constexpr const char* kReceiptsValue = "receipts";
constexpr size_t kBatch = 64;

// Orders are kept by their leaf at the base. A later generation counts leaves anew from its seam,
// so its number stands above them.
constexpr unsigned kGenerationBits = 48;

std::string page_name(const v1::Place& first) {
  return fmt::format("returned.{}.{}", first.epoch(), first.seq());
}

Hash leaf_hash(const v1::SignedLeaf& leaf) {
  return sha256({std::string_view("\0", 1), leaf.leaf_data()});
}

}  // namespace

uint64_t TruckDisk::order_key(uint64_t leaf) const {
  const auto generation = record::generation_of(enrolment_ ? enrolment_->origin() : "");
  return leaf | uint64_t{generation ? *generation - 1 : 0} << kGenerationBits;
}

Status TruckDisk::read_keepsakes(ledger::Ledger& ledger) {
  if (const auto note = ledger.value(kHeadValue)) {
    const auto parsed = record::parse_note(*note);
    const auto head =
        parsed ? record::parse_checkpoint(parsed->text) : std::unexpected(parsed.error());
    if (!head) return fail_at("the base's head on this truck: ", head.error());
    // Of an earlier generation nothing can be held against this one any more.
    if (enrolment_ && head->origin == enrolment_->origin()) {
      head_ = *head;
      head_note_ = *note;
    }
  }
  if (const auto note = ledger.value(kCosignedValue)) {
    const auto parsed = record::parse_note(*note);
    const auto head =
        parsed ? record::parse_checkpoint(parsed->text) : std::unexpected(parsed.error());
    if (!head) return fail_at("the countersigned head on this truck: ", head.error());
    cosigned_size_ = head->size;
  }
  if (const auto receipts = ledger.value(kReceiptsValue);
      receipts && !receipts_.ParseFromString(*receipts))
    receipts_.Clear();
  const auto orders = ledger.orders(0);
  if (!orders) return std::unexpected(orders.error());
  if (!orders->empty()) orders_from_ = orders->back().leaf + 1;
  const auto mark = read_small_file(data_ / "copy.mark", kLongestMark);
  if (mark && !copy_.ParseFromString(*mark)) copy_.Clear();
  return {};
}

Status TruckDisk::write_enrolment(const v1::Enrolment& enrolment) {
  if (auto ok = write_private_file(data_ / "enrolment", enrolment.SerializeAsString()); !ok)
    return ok;
  return read_enrolment();
}

Status TruckDisk::keep_enrolment(const v1::Enrolment& enrolment) {
  {
    const std::lock_guard lock(mutex_);
    if (auto ok = write_enrolment(enrolment); !ok) return ok;
    if (auto ok = open_ledger(); !ok) return ok;
    std::error_code error;
    std::filesystem::remove(data_ / "enrolment.code", error);  // Used; a copy would say nothing.
  }
  if (on_enrolled) on_enrolled();
  return {};
}

Status TruckDisk::keep_rosters(const v1::Enrolment& enrolment) {
  if (auto ok = write_private_file(data_ / "enrolment", enrolment.SerializeAsString()); !ok)
    return ok;
  const std::lock_guard lock(mutex_);
  enrolment_ = enrolment;
  return {};
}

Status TruckDisk::keep_generation(const v1::Enrolment& enrolment, uint64_t,
                                  const record::Checkpoint& head) {
  std::unique_lock lock(mutex_);
  // The note of a head of the generation before stays on disk until one of the new one comes.
  if (auto ok = write_enrolment(enrolment); !ok) return ok;
  head_ = head;
  head_note_.clear();
  // What the base gave a receipt for may be what it has lost.
  receipts_.clear_mark();
  held_epoch_ = 0;
  const std::string bytes = receipts_.SerializeAsString();
  ledger::Ledger* own = ledger_.get();
  lock.unlock();
  return own == nullptr ? Status{} : own->put_value(kReceiptsValue, bytes);
}

Status TruckDisk::keep_ack(const v1::Ack& ack) {
  {
    const std::lock_guard lock(mutex_);
    held_epoch_ = ack.epoch();
    held_seq_ = ack.body_seq();
  }
  if (ledger::Ledger* own = ledger()) own->set_acked(device_id_, ack.seq());
  return {};
}

Status TruckDisk::keep_head(const record::Checkpoint& head, const std::string& note) {
  ledger::Ledger* own = ledger();
  if (own == nullptr) return {};
  if (auto ok = own->put_value(kHeadValue, note); !ok) return ok;
  const std::lock_guard lock(mutex_);
  head_ = head;
  head_note_ = note;
  return {};
}

Status TruckDisk::keep_cosigned(const record::Checkpoint& head, const std::string& note) {
  ledger::Ledger* own = ledger();
  if (own == nullptr) return {};
  if (auto ok = own->put_value(kCosignedValue, note); !ok) return ok;
  const std::lock_guard lock(mutex_);
  cosigned_size_ = head.size;
  return {};
}

uint64_t TruckDisk::cosigned_size() const {
  const std::lock_guard lock(mutex_);
  return cosigned_size_;
}

Status TruckDisk::keep_orders(const v1::Orders& orders) {
  ledger::Ledger* own = ledger();
  if (own == nullptr) return fail(Code::kInternal, "orders came before the enrolment");
  for (const v1::SignedOrder& order : orders.order()) {
    uint64_t key = 0;
    {
      const std::lock_guard lock(mutex_);
      key = order_key(order.leaf_index());
    }
    if (key < orders_from_) continue;
    const auto entry = array_of<record::kEntrySize>(order.entry(), "order");
    const auto salt = array_of<16>(order.salt(), "order's salt");
    if (!entry || !salt) return fail(Code::kBadInput, "an order of another form; update the truck");
    const ledger::HeldOrder held{key, *entry, *salt, order.body()};
    if (auto ok = own->put_order(held); !ok) return ok;
    {
      const std::lock_guard lock(mutex_);
      orders_from_ = key + 1;
    }
    if (on_order) on_order(held);
  }
  return {};
}

Result<uint64_t> TruckDisk::orders_from_leaf() {
  const std::lock_guard lock(mutex_);
  const uint64_t first = order_key(0);
  return orders_from_ > first ? orders_from_ - first : 0;
}

Status TruckDisk::mark_copy(uint64_t fork_leaf) {
  const std::lock_guard lock(mutex_);
  if (copy_.fork_leaf() == fork_leaf && !copy_.mark().empty()) return {};
  v1::CopyMark mark;
  mark.set_fork_leaf(fork_leaf);
  mark.set_mark(string_of(random_array<16>()));
  if (auto ok = write_private_file(data_ / "copy.mark", mark.SerializeAsString()); !ok) return ok;
  copy_ = mark;
  return {};
}

std::string TruckDisk::copy_mark() const {
  const std::lock_guard lock(mutex_);
  return hex_of(copy_.mark());
}

Result<v1::Recoveries> TruckDisk::read_recoveries(const ledger::Ledger& own) const {
  v1::Recoveries all;
  const auto bytes = own.value(kRecoveriesValue);
  if (!bytes && bytes.error().code == Code::kNotFound) return all;
  if (!bytes) return std::unexpected(bytes.error());
  if (!all.ParseFromString(*bytes)) {
    return fail(Code::kCorrupt, "this truck's epochs cannot be read; restore a good copy");
  }
  return all;
}

Result<std::vector<v1::Recovery>> TruckDisk::recoveries() {
  const ledger::Ledger* own = ledger();
  if (own == nullptr) return std::vector<v1::Recovery>{};
  const auto all = read_recoveries(*own);
  if (!all) return std::unexpected(all.error());
  return std::vector<v1::Recovery>(all->recovery().begin(), all->recovery().end());
}

// Of one epoch there is one; pages given back for it are kept from one attempt to the next.
Status TruckDisk::keep_recovery(const v1::Recovery& recovery) {
  ledger::Ledger* own = ledger();
  if (own == nullptr) return fail(Code::kInternal, "an epoch came before the enrolment");
  auto all = read_recoveries(*own);
  if (!all) return std::unexpected(all.error());
  auto& list = *all->mutable_recovery();
  const auto at = std::ranges::find(list, recovery.epoch(), &v1::Recovery::epoch);
  v1::Recovery& kept = at == list.end() ? *list.Add() : *at;
  const auto pages = kept.page();
  kept = recovery;
  if (kept.page().empty()) *kept.mutable_page() = pages;
  return own->put_value(kRecoveriesValue, all->SerializeAsString());
}

Status TruckDisk::begin_epoch(const v1::Recovery& recovery) { return keep_recovery(recovery); }

Status TruckDisk::keep_returned(const v1::Returned& page) {
  if (page.entry().empty()) return {};
  const auto header = record::decode_header(page.entry(0).entry());
  if (!header) return std::unexpected(header.error());
  v1::Place first;
  first.set_epoch(header->epoch);
  first.set_seq(header->seq);
  if (auto ok = ledger()->put_value(page_name(first), page.SerializeAsString()); !ok) return ok;
  auto all = recoveries();
  if (!all) return std::unexpected(all.error());
  if (all->empty()) return fail(Code::kInternal, "entries were given back before an epoch");
  v1::Recovery& newest = all->back();
  const bool there = std::ranges::any_of(newest.page(), [&](const v1::Place& known) {
    return known.epoch() == first.epoch() && known.seq() == first.seq();
  });
  if (!there) {
    *newest.add_page() = first;
    if (auto ok = keep_recovery(newest); !ok) return ok;
  }
  if (on_returned) on_returned(page);
  return {};
}

Result<std::vector<v1::Returned>> TruckDisk::returned() {
  std::vector<v1::Returned> out;
  const auto all = recoveries();
  if (!all) return std::unexpected(all.error());
  for (const v1::Recovery& recovery : *all) {
    for (const v1::Place& first : recovery.page()) {
      const auto bytes = ledger()->value(page_name(first));
      if (!bytes) return std::unexpected(bytes.error());
      if (!out.emplace_back().ParseFromString(*bytes))
        return fail(Code::kCorrupt, page_name(first) + ": cannot be read");
    }
  }
  return out;
}

Status TruckDisk::open_epoch(const v1::Recovery& given) {
  ledger::Ledger* own = ledger();
  v1::Recovery recovery = given;
  recovery.set_opened(true);
  if (auto ok = keep_recovery(recovery); !ok) return ok;
  // From here on everything that is recorded goes into the new epoch.
  if (auto ok = own->start_chain({device_id_, recovery.epoch(), key_->public_key(),
                                  record::genesis_of(leaf_hash(recovery.restore()))});
      !ok)
    return ok;
  return say_recovery(std::move(recovery));
}

Status TruckDisk::say_recovery(v1::Recovery recovery) {
  constexpr size_t kPage = 256;
  Recovered done;
  bool stated = false;
  for (uint64_t from = 1;;) {
    const auto page = entries_from(recovery.epoch(), from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const OwnEntry& entry : *page) {
      from = entry.seq + 1;
      const auto header = record::decode_header(entry.entry);
      v1::RecoveredBody body;
      v1::GapBody gap;
      if (header->kind == record::Kind::kRecovered && body.ParseFromString(entry.body))
        done.insert(recovered_id(body.entry()));
      if (header->kind == record::Kind::kGap && gap.ParseFromString(entry.body))
        stated = stated || gap.channel() == "record";
    }
    if (page->size() < kPage) break;
  }
  std::vector<ledger::OwnEntry> batch;
  if (!stated) {
    const auto last = last_known_us(recovery);
    if (!last) return std::unexpected(last.error());
    auto gap = unknown_span(recovery, *last, watch::wall_now_us());
    if (!gap) return std::unexpected(gap.error());
    batch.push_back(own_entry(gap->kind, gap->job, std::move(gap->body)));
  }
  const auto brought = bring_in(*this, recovery, done, [&](const Saying& saying) -> Status {
    batch.push_back(own_entry(saying.kind, saying.job, saying.body));
    return batch.size() < kBatch ? Status{} : append_own(std::exchange(batch, {}));
  });
  if (!brought) return brought;
  if (auto ok = append_own(std::move(batch)); !ok) return ok;
  recovery.set_said(true);
  if (auto ok = keep_recovery(recovery); !ok) return ok;
  if (on_epoch) on_epoch();
  return {};
}

ledger::OwnEntry TruckDisk::own_entry(record::Kind kind, const record::Id16& job,
                                      std::string body) const {
  ledger::OwnEntry own;
  own.header.kind = kind;
  own.header.device_id = device_id_;
  own.header.job_id = job;
  watch::stamp(own.header);
  const record::Checkpoint head = newest_head();
  own.header.seen_size = head.size;
  if (head.size > 0) {
    own.header.seen_root = head.root;
    own.header.ledger_id = record::ledger_id_of(head.origin);
  }
  own.body = std::move(body);
  own.key = key_;
  return own;
}

Status TruckDisk::append_own(std::vector<ledger::OwnEntry> batch) {
  if (batch.empty()) return {};
  const auto results = ledger()->append_own(std::move(batch)).get();
  if (!results) return std::unexpected(results.error());
  for (const ledger::AppendResult& result : *results) {
    if (result.outcome == ledger::Outcome::kRefused)
      return fail(Code::kInternal, "the own ledger refused an entry: " + result.words);
  }
  return {};
}

// The newest wall clock of what this disk has beyond the common part, and of what was given back.
Result<int64_t> TruckDisk::last_known_us(const v1::Recovery& recovery) {
  int64_t last = 0;
  const auto see = [&](std::string_view entry) {
    if (const auto header = record::decode_header(entry)) last = std::max(last, header->wall_us);
  };
  const auto own =
      entries_from(recovery.common().epoch(), std::max<uint64_t>(recovery.common().seq(), 1), 1);
  if (!own) return std::unexpected(own.error());
  if (!own->empty()) see(view_of(own->front().entry));
  const auto pages = returned();
  if (!pages) return std::unexpected(pages.error());
  if (!pages->empty() && !pages->back().entry().empty())
    see(pages->back().entry(pages->back().entry_size() - 1).entry());
  return last;
}

}  // namespace fairlead::uplink
