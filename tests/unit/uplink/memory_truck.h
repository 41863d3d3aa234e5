// A truck's disk in memory: entries signed as the recorder signs them, and what the uplink keeps.
#pragma once

#include <gtest/gtest.h>

#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "daemon/intake/hello.h"
#include "daemon/record/commitment.h"
#include "daemon/record/leaf.h"
#include "daemon/uplink/recovery.h"

namespace fairlead::test {

class MemoryTruck : public uplink::UplinkStore {
 public:
  explicit MemoryTruck(const std::string& name)
      : name_(name), key_(std::make_shared<SecretKey>(SecretKey::generate())) {}
  /// A disk is copied whole; the program on the copy is another run.
  MemoryTruck(const MemoryTruck&) = default;
  MemoryTruck& operator=(const MemoryTruck&) = default;
  void start_anew() { session_ = string_of(random_array<16>()); }

  [[nodiscard]] bool enrolled() const { return enrolment_.has_value(); }
  /// Of the newest epoch.
  [[nodiscard]] size_t size() const { return own().size(); }
  [[nodiscard]] const std::vector<uplink::OwnEntry>& own() const { return own_[epoch_]; }
  [[nodiscard]] uint32_t epoch() const { return epoch_; }
  [[nodiscard]] const record::Id16& device_id() const { return device_id_; }
  [[nodiscard]] const std::vector<v1::SignedOrder>& orders() const { return orders_; }
  [[nodiscard]] const std::vector<v1::SentEntry>& returned() const { return returned_; }
  [[nodiscard]] uint64_t acked() const { return acked_; }
  [[nodiscard]] record::Checkpoint& head() { return head_; }
  [[nodiscard]] const std::string& cosigned() const { return cosigned_; }
  void forget_head() {
    head_ = {};
    head_note_.clear();
  }
  [[nodiscard]] const SecretKey& key() const { return *key_; }
  [[nodiscard]] const std::string& copy() const { return copy_; }

  /// Appends one entry; only after enrolment.
  void write(record::Kind kind, const std::string& body, const record::Id16& job = {}) {
    uplink::OwnEntry own;
    auto& entries = own_[epoch_];
    own.seq = entries.size() + 1;
    own.salt = random_array<16>();
    own.body = body;
    record::EntryHeader header;
    header.kind = kind;
    header.ledger_id = record::ledger_id_of(enrolment_->origin());
    header.device_id = device_id_;
    header.epoch = epoch_;
    header.seq = own.seq;
    header.job_id = job;
    header.prev = chain(entries.size());
    EXPECT_TRUE(record::bind_body(header, own.salt, own.body));
    own.entry = record::sign_entry(header, *key_);
    entries.push_back(std::move(own));
  }
  /// Puts the disk back to an earlier state of this epoch.
  void restore(size_t entries) { own_[epoch_].resize(entries); }

  Result<v1::Hello> hello() override {
    v1::Hello hello;
    hello.set_device_id(string_of(device_id_));
    hello.set_name(name_);
    hello.set_public_key(string_of(key_->public_key().bytes));
    hello.set_session(session_);
    hello.set_copy(copy_);
    hello.set_seen_note(head_note_);
    if (enrolled()) {
      hello.set_epoch(epoch_);
      hello.set_last_seq(size());
      hello.set_last_chain(string_of(chain(size())));
    }
    hello.set_signature(string_of(key_->sign(intake::hello_text(hello)).bytes));
    return hello;
  }
  Result<uplink::Tip> tip() override {
    if (!enrolled()) return fail(Code::kNotFound, "not enrolled");
    return uplink::Tip{epoch_, size(), chain(size())};
  }
  Result<std::vector<uplink::OwnEntry>> entries_from(uint32_t epoch, uint64_t seq,
                                                     size_t count) override {
    std::vector<uplink::OwnEntry> out;
    if (epoch >= own_.size()) return out;
    const auto& entries = own_[epoch];
    for (uint64_t i = seq; i <= entries.size() && out.size() < count; ++i)
      out.push_back(entries[i - 1]);
    return out;
  }
  Result<std::vector<v1::Recovery>> recoveries() override { return recoveries_; }
  Result<std::optional<v1::Enrolment>> enrolment() override { return enrolment_; }
  Result<record::Checkpoint> seen_head() override { return head_; }
  Status keep_enrolment(const v1::Enrolment& enrolment) override {
    enrolment_ = enrolment;
    genesis_ = record::genesis_of(sha256({std::string_view("\0", 1), enrolment.leaf_data()}));
    return {};
  }
  Status keep_rosters(const v1::Enrolment& enrolment) override {
    enrolment_ = enrolment;
    return {};
  }
  Status keep_generation(const v1::Enrolment& enrolment, uint64_t,
                         const record::Checkpoint& head) override {
    enrolment_ = enrolment;
    head_ = head;
    head_note_.clear();
    orders_from_ = 0;
    acked_ = 0;  // What the base has lost is acknowledged anew.
    return {};
  }
  Status begin_epoch(const v1::Recovery&) override {
    returned_.clear();
    return {};
  }
  Status keep_returned(const v1::Returned& page) override {
    returned_.insert(returned_.end(), page.entry().begin(), page.entry().end());
    return {};
  }
  Status open_epoch(const v1::Recovery& recovery) override {
    recoveries_.push_back(recovery);
    epoch_ = recovery.epoch();
    own_.resize(epoch_ + 1);
    acked_ = 0;
    genesis_ =
        record::genesis_of(sha256({std::string_view("\0", 1), recovery.restore().leaf_data()}));
    const auto gap = uplink::unknown_span(recovery, 0, 1);
    if (!gap) return std::unexpected(gap.error());
    write(gap->kind, gap->body);
    return uplink::bring_in(*this, recovery, {}, [&](const uplink::Saying& saying) -> Status {
      write(saying.kind, saying.body, saying.job);
      return {};
    });
  }
  Status mark_copy(uint64_t fork_leaf) override {
    if (marked_for_ == fork_leaf) return {};
    marked_for_ = fork_leaf;
    copy_ = string_of(random_array<16>());
    return {};
  }
  Status keep_ack(const v1::Ack& ack) override {
    EXPECT_GE(ack.seq(), acked_);
    acked_ = ack.seq();
    return {};
  }
  Status keep_receipt(const v1::Receipt&) override { return {}; }
  /// Bodies of the newest epoch up to this entry go, as if the base had held them long enough.
  void free_up_to(uint64_t seq) {
    freed_epoch_ = epoch_;
    for (uplink::OwnEntry& entry : own_[epoch_]) {
      if (entry.seq > seq) continue;
      entry.erased = true;
      entry.body.clear();
      freed_.insert(entry.seq);
    }
  }
  Status say_lost(uint32_t epoch, uint64_t acked_seq) override {
    std::vector<uint64_t> lost;
    if (epoch != freed_epoch_) return {};
    while (!freed_.empty() && *freed_.rbegin() > acked_seq) {
      lost.insert(lost.begin(), *freed_.rbegin());
      freed_.erase(*freed_.rbegin());
    }
    for (const std::string& body : uplink::lost_bodies(epoch, lost, 0))
      write(record::Kind::kGap, body);
    return {};
  }
  Status keep_head(const record::Checkpoint& head, const std::string& note) override {
    head_ = head;
    head_note_ = note;
    return {};
  }
  Status keep_cosigned(const record::Checkpoint&, const std::string& note) override {
    cosigned_ = note;
    return {};
  }
  Status keep_orders(const v1::Orders& orders) override {
    for (const auto& order : orders.order()) {
      if (order.leaf_index() >= orders_from_) {
        orders_.push_back(order);
        orders_from_ = order.leaf_index() + 1;
      }
    }
    return {};
  }
  Result<uint64_t> orders_from_leaf() override { return orders_from_; }

 private:
  Hash chain(uint64_t seq) const {
    return seq == 0 ? genesis_ : record::chain_of(own()[seq - 1].entry);
  }

  std::string name_;
  std::shared_ptr<SecretKey> key_;
  record::Id16 device_id_ = random_array<16>();
  std::string session_ = string_of(random_array<16>()), copy_;
  uint64_t marked_for_ = 0;
  uint32_t epoch_ = 1;
  std::vector<std::vector<uplink::OwnEntry>> own_ = {{}, {}};  // By epoch.
  std::vector<v1::Recovery> recoveries_;
  std::vector<v1::SentEntry> returned_;
  std::optional<v1::Enrolment> enrolment_;
  Hash genesis_{};        // Of the newest epoch.
  std::string cosigned_;  // Newest countersigned head told.
  record::Checkpoint head_;
  std::string head_note_;
  std::vector<v1::SignedOrder> orders_;
  uint64_t orders_from_ = 0;
  uint64_t acked_ = 0;
  uint32_t freed_epoch_ = 0;
  std::set<uint64_t> freed_;
};

}  // namespace fairlead::test
