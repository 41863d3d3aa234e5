// A truck's data folder: device.key, device.id, device.pub and enrolment.code (to be enrolled by),
// enrolment (what the base said at first contact) and, from then on, the truck's own ledger.
// device.key.next, where `fairlead enrol rotate` has made one, takes over once the base agrees.
//
// Until it is enrolled a truck cannot record: its chain begins with a hash of its ENROL entry.
// Threads: any; the folder is locked by the daemon.
#pragma once

#include <condition_variable>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <set>
#include <string>

#include "daemon/base/config.h"
#include "daemon/ledger/ledger.h"
#include "daemon/uplink/uplink_store.h"

namespace fairlead::uplink {

class TruckDisk : public UplinkStore {
 public:
  /// Makes key, id and device.pub on first start; opens the ledger if the truck is enrolled.
  [[nodiscard]] static Result<std::unique_ptr<TruckDisk>> open(const std::filesystem::path& data,
                                                               const std::string& name);

  [[nodiscard]] const record::Id16& device_id() const { return device_id_; }
  [[nodiscard]] const std::shared_ptr<const SecretKey>& key() const { return key_; }
  [[nodiscard]] const std::string& name() const { return name_; }
  /// The one-time code shown in the cab while the truck is not enrolled, and until when it holds;
  /// empty once it is. A new one, with a new device.pub, when the old has expired.
  struct CabCode {
    std::string code;
    int64_t until_us = 0;
  };
  [[nodiscard]] CabCode cab_code();
  /// device.key.next is there: the key is to be changed.
  [[nodiscard]] bool has_next_key() const { return next_key_ != nullptr; }
  /// What both keys sign about it.
  [[nodiscard]] v1::KeyChange key_change() const;
  /// From here on the next key signs; call before anything is recorded in this run.
  [[nodiscard]] Status adopt_next_key();
  /// Null until the truck is enrolled; stays valid then.
  [[nodiscard]] ledger::Ledger* ledger() const;
  /// Newest head of the base this truck has seen, from memory.
  [[nodiscard]] record::Checkpoint newest_head() const;
  /// Size of the newest countersigned head the base has shown; 0 = none. Its note is the ledger's
  /// value "cosigned_head".
  [[nodiscard]] uint64_t cosigned_size() const;

  /// Called once, from the uplink's thread, when the truck has just been enrolled.
  std::function<void()> on_enrolled;
  /// Called for every order that is new, after it is on disk.
  std::function<void(const ledger::HeldOrder&)> on_order;
  /// Called with entries of this truck's record that its disk had lost and the base gave back,
  /// after they are on disk.
  std::function<void(const v1::Returned&)> on_returned;
  /// Called when a new epoch was opened because this disk had been put back.
  std::function<void()> on_epoch;

  /// Frees bodies the base keeps: what it has given a receipt for so long ago and said, on the
  /// connection that stands, that it holds with its body. Gives how many went.
  [[nodiscard]] Result<uint64_t> free_held(const RetentionConfig& policy, int64_t now_us);
  /// All that was ever given back, in order.
  [[nodiscard]] Result<std::vector<v1::Returned>> returned();
  /// Mark of this copy, hex; empty while no other is known of.
  [[nodiscard]] std::string copy_mark() const;

  Result<v1::Hello> hello() override;
  Result<Tip> tip() override;
  Result<std::vector<OwnEntry>> entries_from(uint32_t epoch, uint64_t seq, size_t count) override;
  Result<std::vector<v1::Recovery>> recoveries() override;
  Result<std::optional<v1::Enrolment>> enrolment() override;
  Result<record::Checkpoint> seen_head() override;
  Status keep_enrolment(const v1::Enrolment& enrolment) override;
  Status keep_rosters(const v1::Enrolment& enrolment) override;
  Status keep_generation(const v1::Enrolment& enrolment, uint64_t leaf,
                         const record::Checkpoint& head) override;
  Status begin_epoch(const v1::Recovery& recovery) override;
  Status keep_returned(const v1::Returned& page) override;
  Status open_epoch(const v1::Recovery& recovery) override;
  Status mark_copy(uint64_t fork_leaf) override;
  Status keep_ack(const v1::Ack& ack) override;
  Status keep_receipt(const v1::Receipt& receipt) override;
  Status say_lost(uint32_t epoch, uint64_t acked_seq) override;
  Status keep_head(const record::Checkpoint& head, const std::string& note) override;
  Status keep_cosigned(const record::Checkpoint& head, const std::string& note) override;
  Status keep_orders(const v1::Orders& orders) override;
  Result<uint64_t> orders_from_leaf() override;

 private:
  TruckDisk() = default;
  Status make_identity();
  Status make_code();
  Status load_next_key();
  Status read_enrolment();
  Status open_ledger();
  /// What an order is kept under. With the lock held.
  uint64_t order_key(uint64_t leaf) const;
  Status read_keepsakes(ledger::Ledger& ledger);
  Status write_enrolment(const v1::Enrolment& enrolment);
  Result<v1::Recoveries> read_recoveries(const ledger::Ledger& ledger) const;
  Status keep_recovery(const v1::Recovery& recovery);
  /// Whatever is not said yet at the beginning of the epoch.
  Status say_recovery(v1::Recovery recovery);
  Status append_own(std::vector<ledger::OwnEntry> batch);
  Result<std::set<uint64_t>> said_lost(uint32_t epoch) const;
  ledger::OwnEntry own_entry(record::Kind kind, const record::Id16& job, std::string body) const;
  Result<int64_t> last_known_us(const v1::Recovery& recovery);
  Result<Tip> own_tip() const;

  std::filesystem::path data_;
  std::string name_;
  std::shared_ptr<const SecretKey> key_, next_key_;
  record::Id16 device_id_{};
  std::string session_ = string_of(random_array<16>());
  mutable std::mutex mutex_;  // Guards the members below.
  std::optional<v1::Enrolment> enrolment_;
  CabCode code_;
  Hash genesis_{};
  std::unique_ptr<ledger::Ledger> ledger_;
  record::Checkpoint head_;
  std::string head_note_;
  v1::CopyMark copy_;
  uint64_t cosigned_size_ = 0;
  uint64_t orders_from_ = 0;
  v1::Receipts receipts_;
  uint32_t held_epoch_ = 0;  // What the base said on this connection that it holds with its body.
  uint64_t held_seq_ = 0;
};

}  // namespace fairlead::uplink
