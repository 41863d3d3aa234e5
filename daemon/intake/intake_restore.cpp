// The half of IntakeState about trucks that were put back to an older state or exist twice.
#include <fmt/format.h>

#include <algorithm>

#include "daemon/intake/intake_state.h"
#include "daemon/record/leaf.h"
#include "daemon/watch/stamp.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::intake {
namespace {

// Room for the message around the entries.
constexpr size_t kPageBytes = kBatchBytes - 64 * 1024;

}  // namespace

v1::Reply IntakeState::probe() {
  nonce_ = string_of(random_array<16>());
  v1::Reply reply;
  reply.mutable_probe()->set_nonce(nonce_);
  return reply;
}

v1::Reply IntakeState::retire() {
  retired_ = true;
  return probe();
}

// The nonce was made after the other run had called, so whoever answers it lives beside that one.
Step IntakeState::take_probe_answer(const v1::ProbeAnswer& answer) {
  if (!device_ || nonce_.empty() || answer.nonce() != nonce_) {
    return refused(refuse(v1::Refusal::REASON_BAD_FORM, "an answer to a probe that was not sent"));
  }
  nonce_.clear();
  Step step = refused(refuse(
      v1::Refusal::REASON_SUSPENDED,
      "two copies of this truck are running; a person must choose one: fairlead device list"));
  v1::ForkBody& fork = step.fork.emplace();
  fork.set_device_id(string_of(device_->id));
  fork.set_epoch(hello_.epoch());
  fork.set_seq(hello_.last_seq());
  fork.set_words("two copies of this truck were running at the same time");
  return step;
}

std::optional<v1::Refusal> IntakeState::check_copy(const Device& device, const v1::Hello& hello) {
  const auto mark = array_of<16>(hello.copy(), "hello.copy");
  if (mark) {
    devices_.note_copy(device.id, {*mark, hello.epoch(), hello.last_seq(), watch::wall_now_us()});
  }
  const bool other = device.chosen && (!mark || *mark != *device.chosen);
  if (!device.suspended && !other) return std::nullopt;
  v1::Refusal refusal = refuse(
      v1::Refusal::REASON_SUSPENDED,
      device.suspended
          ? "two records of this truck exist; a person must choose one at the base: fairlead "
            "device "
            "list, fairlead device decide"
          : "another copy of this truck was chosen to go on; take this one out of service, or "
            "choose again at the base: fairlead device decide");
  refusal.set_fork_leaf(device.fork_leaf);
  return refusal;
}

std::optional<Step> IntakeState::check_epoch(const Device& device) {
  const auto mark = ledger_.watermark(device.id);
  if (!mark) return refused(busy(mark.error()));
  if (hello_.epoch() > mark->epoch && devices_.office().heads().ancestors().empty()) {
    return refused(refuse(
        v1::Refusal::REASON_SUSPENDED,
        fmt::format(
            "the truck is in epoch {}, this base knows epoch {} only: this base was restored "
            "from an older copy; put its newest disk back, or declare a new generation",
            hello_.epoch(), mark->epoch)));
  }
  if (std::max(hello_.epoch(), 1U) >= mark->epoch || mark->seq == 0) return std::nullopt;
  Step step = refused(refuse(
      v1::Refusal::REASON_SUSPENDED,
      fmt::format(
          "this truck's disk is from before epoch {}, in which another copy of it records; a "
          "person must choose one: fairlead device list",
          mark->epoch)));
  v1::ForkBody& fork = step.fork.emplace();
  fork.set_device_id(string_of(device.id));
  fork.set_epoch(hello_.epoch());
  fork.set_seq(hello_.last_seq());
  fork.set_words("a copy of this truck from before its newest epoch called");
  return step;
}

Result<std::optional<v1::ForkBody>> IntakeState::fork_with(const v1::Differs& differs) const {
  if (differs.entry().empty()) return std::nullopt;
  const auto entry = array_of<record::kEntrySize>(differs.entry(), "differs.entry");
  const auto header = entry ? record::decode_header(*entry) : std::unexpected(entry.error());
  if (!header) return fail(Code::kBadInput, header.error().message);
  if (header->device_id != device_->id || !record::verify_entry(*entry, device_->key)) {
    return fail(Code::kBadInput, "differs.entry: is not signed by this device");
  }
  const auto kept = ledger_.device_entries(device_->id, header->epoch, header->seq, 1, false);
  if (!kept) return std::unexpected(kept.error());
  if (kept->empty() || kept->front().header().seq != header->seq || kept->front().entry == *entry)
    return std::nullopt;
  v1::ForkBody fork;
  fork.set_device_id(string_of(device_->id));
  fork.set_epoch(header->epoch);
  fork.set_seq(header->seq);
  fork.set_kept_entry(string_of(kept->front().entry));
  fork.set_other_entry(differs.entry());
  fork.set_words("the truck's disk was put back and it recorded on from there");
  return fork;
}

Result<v1::RestoreBody> IntakeState::restore_for(const v1::Differs& differs,
                                                 std::optional<v1::ForkBody>& fork) {
  auto other = fork_with(differs);
  if (!other) return std::unexpected(other.error());
  fork = std::move(*other);
  const bool shorter = hello_.epoch() < mark_.epoch ||
                       (hello_.epoch() == mark_.epoch && hello_.last_seq() < mark_.seq);
  // A base in a later generation, or one that enrolled this truck anew, may have lost its past.
  const bool unrooted = mark_.seq == 0 || hello_.epoch() > mark_.epoch;
  if (!shorter && !unrooted && !fork) {
    return fail(Code::kBadInput, "differs: nothing differs; connect again");
  }
  v1::RestoreBody body;
  body.set_device_id(string_of(device_->id));
  body.set_old_epoch(mark_.epoch);
  body.set_new_epoch(std::max(mark_.epoch, hello_.epoch()) + 1);
  body.set_acked_seq(mark_.seq);
  body.set_acked_chain(string_of(mark_.chain));
  body.set_cause(shorter
                     ? fmt::format("the truck's disk was put back: it holds entries up to {} of "
                                   "epoch {}, the base up to {} of epoch {}",
                                   hello_.last_seq(), hello_.epoch(), mark_.seq, mark_.epoch)
                     : "the truck's record is another than the one this base holds of it");
  return body;
}

// The newest place both sides hold alike, as far as the points tell.
Status IntakeState::find_common(const v1::Differs& differs, v1::Place& common) const {
  for (const v1::ChainPoint& point : differs.point()) {
    if (point.seq() <= common.seq()) continue;
    const auto held = ledger_.device_entries(device_->id, common.epoch(), point.seq(), 1, false);
    if (!held) return std::unexpected(held.error());
    if (held->empty() || held->front().header().seq != point.seq()) continue;
    if (view_of(record::chain_of(held->front().entry)) == point.chain()) {
      common.set_seq(point.seq());
    }
  }
  return {};
}

Result<v1::Restored> IntakeState::restored(const v1::Differs& differs) const {
  const auto leaf = ledger_.entry(device_->restore_leaf);
  if (!leaf) return std::unexpected(leaf.error());
  v1::RestoreBody body;
  if (!body.ParseFromString(leaf->body)) {
    return fail(Code::kCorrupt, fmt::format("leaf {}: cannot be read", leaf->leaf));
  }
  v1::Restored out;
  v1::SignedLeaf& restore = *out.mutable_restore();
  restore.set_leaf_index(leaf->leaf);
  restore.set_leaf_data(string_of(record::leaf_data_of(leaf->entry, leaf->recv_us)));
  restore.set_salt(string_of(leaf->salt));
  restore.set_body(leaf->body);
  v1::Place& common = *out.mutable_common();
  common.set_epoch(std::min(body.old_epoch(), std::max(hello_.epoch(), 1U)));
  if (auto ok = find_common(differs, common); !ok) return std::unexpected(ok.error());
  return out;
}

Result<v1::Returned> IntakeState::returned_after(const v1::Place& place) const {
  v1::Returned page;
  size_t bytes = 0;
  uint64_t from = place.seq() + 1;
  for (uint32_t epoch = place.epoch(); epoch < mark_.epoch; ++epoch, from = 1) {
    auto stored = ledger_.device_entries(device_->id, epoch, from, kBatchEntries, true);
    if (!stored) return std::unexpected(stored.error());
    for (ledger::StoredEntry& entry : *stored) {
      bytes += record::kEntrySize + entry.body.size() + 32;
      if (page.entry_size() > 0 && bytes > kPageBytes) return page;
      v1::SentEntry& sent = *page.add_entry();
      sent.set_entry(string_of(entry.entry));
      sent.set_erased(entry.body_state == ledger::BodyState::kErased);
      sent.set_body_follows(entry.body_state == ledger::BodyState::kFollows);
      if (entry.body_state != ledger::BodyState::kHere) continue;
      sent.set_salt(string_of(entry.salt));
      sent.set_body(std::move(entry.body));
    }
    if (page.entry_size() > 0) return page;
  }
  return page;
}

// Signatures of keys before the newest one are left to whoever verifies the whole record.
std::string IntakeState::wrong_with_recovered(const record::EntryHeader& header,
                                              const std::string& bytes) const {
  v1::RecoveredBody body;
  if (!body.ParseFromString(bytes)) return "recovered: cannot be read";
  const auto entry = array_of<record::kEntrySize>(body.entry(), "recovered.entry");
  const auto inner = entry ? record::decode_header(*entry) : std::unexpected(entry.error());
  if (!inner) return "recovered: " + inner.error().message;
  if (inner->device_id != device_->id || inner->epoch >= header.epoch ||
      inner->job_id != header.job_id || inner->kind == record::Kind::kRecovered ||
      (inner->key_id == record::key_id_of(device_->key) &&
       !record::verify_entry(*entry, device_->key))) {
    return "recovered: holds no entry of an earlier epoch signed by this device";
  }
  const auto salt = array_of<16>(body.salt(), "recovered.salt");
  if (!body.salt().empty() && (!salt || !record::body_matches(*inner, *salt, body.body())))
    return "recovered: its body is not the one its entry commits to";
  return {};
}

Step IntakeState::take_differs(const v1::Differs& differs) {
  constexpr int kMostPoints = 128;
  if (differs.point_size() > kMostPoints || sending_) {
    return refused(
        refuse(v1::Refusal::REASON_BAD_FORM, sending_ ? "differs: came after entries; connect again"
                                                      : "differs: too many points"));
  }
  // A new epoch in which nothing was written yet is this truck's already: the link broke before it
  // could use it.
  const bool open = device_->restore_leaf > 0 && mark_.seq == 0 && mark_.epoch > hello_.epoch();
  if (!open) {
    std::optional<v1::ForkBody> fork;
    const auto body = restore_for(differs, fork);
    if (!body && body.error().code == Code::kBadInput)
      return refused(refuse(v1::Refusal::REASON_BAD_FORM, body.error().message));
    if (!body) return refused(busy(body.error()));
    auto device = devices_.restore(*body, fork);
    if (!device) return refused(busy(device.error()));
    device_ = std::move(*device);
    const auto mark = ledger_.watermark(device_->id);
    if (!mark) return refused(busy(mark.error()));
    mark_ = *mark;
  }
  auto again = restored(differs);
  if (!again) return refused(busy(again.error()));
  const v1::Place from = differs.has_have() ? differs.have() : again->common();
  auto page = returned_after(from);
  if (!page) return refused(busy(page.error()));
  Step step;
  if (!differs.has_have()) *step.replies.emplace_back().mutable_restored() = std::move(*again);
  if (page->entry_size() > 0) {
    *step.replies.emplace_back().mutable_returned() = std::move(*page);
    return step;
  }
  auto resumed = resume();
  if (!resumed) return refused(busy(resumed.error()));
  *step.replies.emplace_back().mutable_resume() = std::move(*resumed);
  return step;
}

}  // namespace fairlead::intake
