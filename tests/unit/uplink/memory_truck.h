// A truck's disk in memory: entries signed as the recorder signs them, and what the uplink keeps.
#pragma once

#include <gtest/gtest.h>

#include <optional>
#include <string>
#include <vector>

#include "daemon/intake/hello.h"
#include "daemon/record/commitment.h"
#include "daemon/record/leaf.h"
#include "daemon/uplink/uplink_store.h"

namespace fairlead::test {

class MemoryTruck : public uplink::UplinkStore {
 public:
  explicit MemoryTruck(const std::string& name) : name_(name), key_(SecretKey::generate()) {}

  [[nodiscard]] bool enrolled() const { return enrolment_.has_value(); }
  [[nodiscard]] size_t size() const { return own_.size(); }
  [[nodiscard]] const std::vector<uplink::OwnEntry>& own() const { return own_; }
  [[nodiscard]] const record::Id16& device_id() const { return device_id_; }
  [[nodiscard]] const std::vector<v1::SignedOrder>& orders() const { return orders_; }
  [[nodiscard]] uint64_t acked() const { return acked_; }
  [[nodiscard]] record::Checkpoint& head() { return head_; }
  [[nodiscard]] const std::string& cosigned() const { return cosigned_; }
  [[nodiscard]] const SecretKey& key() const { return key_; }

  /// Appends one entry; only after enrolment.
  void write(record::Kind kind, const std::string& body) {
    uplink::OwnEntry own;
    own.seq = own_.size() + 1;
    own.salt = random_array<16>();
    own.body = body;
    record::EntryHeader header;
    header.kind = kind;
    header.ledger_id = record::ledger_id_of(enrolment_->origin());
    header.device_id = device_id_;
    header.seq = own.seq;
    header.prev = chain(own_.size());
    EXPECT_TRUE(record::bind_body(header, own.salt, own.body));
    own.entry = record::sign_entry(header, key_);
    own_.push_back(std::move(own));
  }
  /// Puts the disk back to an earlier state.
  void restore(size_t entries) { own_.resize(entries); }

  Result<v1::Hello> hello() override {
    v1::Hello hello;
    hello.set_device_id(string_of(device_id_));
    hello.set_name(name_);
    hello.set_public_key(string_of(key_.public_key().bytes));
    if (enrolled()) {
      hello.set_epoch(1);
      hello.set_last_seq(own_.size());
      hello.set_last_chain(string_of(chain(own_.size())));
    }
    hello.set_signature(string_of(key_.sign(intake::hello_text(hello)).bytes));
    return hello;
  }
  Result<uplink::Tip> tip() override {
    if (!enrolled()) return fail(Code::kNotFound, "not enrolled");
    return uplink::Tip{1, own_.size(), chain(own_.size())};
  }
  Result<Hash> chain_at(uint64_t seq) override {
    if (seq > own_.size()) return fail(Code::kNotFound, "beyond the tip");
    return chain(seq);
  }
  Result<std::vector<uplink::OwnEntry>> entries_from(uint64_t seq, size_t count) override {
    std::vector<uplink::OwnEntry> out;
    for (uint64_t i = seq; i <= own_.size() && out.size() < count; ++i) out.push_back(own_[i - 1]);
    return out;
  }
  Result<std::optional<v1::Enrolment>> enrolment() override { return enrolment_; }
  Result<record::Checkpoint> seen_head() override { return head_; }
  Status keep_enrolment(const v1::Enrolment& enrolment) override {
    enrolment_ = enrolment;
    const auto entry = array_of<record::kEntrySize>(enrolment.leaf_data().substr(1, 288), "e");
    const auto* at = reinterpret_cast<const uint8_t*>(enrolment.leaf_data().data()) + 289;
    genesis_ = record::genesis_of(
        record::leaf_hash_of(*entry, static_cast<int64_t>(get_be<uint64_t>(at))));
    return {};
  }
  Status keep_ack(const v1::Ack& ack) override {
    EXPECT_GE(ack.seq(), acked_);
    acked_ = ack.seq();
    return {};
  }
  Status keep_head(const record::Checkpoint& head, const std::string&) override {
    head_ = head;
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
    return seq == 0 ? genesis_ : record::chain_of(own_[seq - 1].entry);
  }

  std::string name_;
  SecretKey key_;
  record::Id16 device_id_ = random_array<16>();
  std::vector<uplink::OwnEntry> own_;
  std::optional<v1::Enrolment> enrolment_;
  Hash genesis_{};
  std::string cosigned_;  // Newest countersigned head told.
  record::Checkpoint head_;
  std::vector<v1::SignedOrder> orders_;
  uint64_t orders_from_ = 0;
  uint64_t acked_ = 0;
};

}  // namespace fairlead::test
