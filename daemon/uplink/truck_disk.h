// A truck's data folder: device.key, device.id, device.pub (to be enrolled by), enrolment (what the
// base said at first contact) and, from then on, the truck's own ledger.
//
// Until it is enrolled a truck cannot record: its chain begins with a hash of its ENROL entry.
// Threads: any; the folder is locked by the daemon.
#pragma once

#include <condition_variable>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <string>

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

  Result<v1::Hello> hello() override;
  Result<Tip> tip() override;
  Result<Hash> chain_at(uint64_t seq) override;
  Result<std::vector<OwnEntry>> entries_from(uint64_t seq, size_t count) override;
  Result<std::optional<v1::Enrolment>> enrolment() override;
  Result<record::Checkpoint> seen_head() override;
  Status keep_enrolment(const v1::Enrolment& enrolment) override;
  Status keep_ack(const v1::Ack& ack) override;
  Status keep_head(const record::Checkpoint& head, const std::string& note) override;
  Status keep_cosigned(const record::Checkpoint& head, const std::string& note) override;
  Status keep_orders(const v1::Orders& orders) override;
  Result<uint64_t> orders_from_leaf() override;

 private:
  TruckDisk() = default;
  Status make_identity();
  Status read_enrolment();
  Status open_ledger();
  Result<Tip> own_tip() const;

  std::filesystem::path data_;
  std::string name_;
  std::shared_ptr<const SecretKey> key_;
  record::Id16 device_id_{};
  mutable std::mutex mutex_;  // Guards the members below.
  std::optional<v1::Enrolment> enrolment_;
  Hash genesis_{};
  std::unique_ptr<ledger::Ledger> ledger_;
  record::Checkpoint head_;
  uint64_t cosigned_size_ = 0;
  uint64_t orders_from_ = 0;
};

}  // namespace fairlead::uplink
