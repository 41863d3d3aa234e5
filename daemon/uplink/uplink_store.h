// What the truck's end of the stream needs from the truck's own disk. An interface, so that the
// protocol can be driven in tests without one.
//
// Threads: called from the uplink's own thread only; calls may block on the disk.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "daemon/base/result.h"
#include "daemon/record/checkpoint.h"
#include "daemon/record/commitment.h"
#include "daemon/record/entry.h"
#include "fairlead/v1/intake_service.pb.h"
#include "fairlead/v1/truck_disk.pb.h"

namespace fairlead::uplink {

/// Where a device's chain ends. seq 0: nothing written yet, chain is the genesis hash.
struct Tip {
  uint32_t epoch = 0;
  uint64_t seq = 0;
  Hash chain{};
};

/// One own entry as it lies in the truck's ledger.
struct OwnEntry {
  uint64_t seq = 0;
  record::EntryBytes entry{};
  record::Salt salt{};
  std::string body;
  bool erased = false;
};

class UplinkStore {
 public:
  virtual ~UplinkStore() = default;
  /// Everything a hello says but the head and the orders held, signed by the device key.
  [[nodiscard]] virtual Result<v1::Hello> hello() = 0;
  [[nodiscard]] virtual Result<Tip> tip() = 0;
  /// At most `count` entries of that epoch from `seq` on, in order; fewer at its end.
  [[nodiscard]] virtual Result<std::vector<OwnEntry>> entries_from(uint32_t epoch, uint64_t seq,
                                                                   size_t count) = 0;
  /// Epochs that were opened because this disk had been put back, oldest first.
  [[nodiscard]] virtual Result<std::vector<v1::Recovery>> recoveries() = 0;

  /// nullopt until the base has answered for the first time.
  [[nodiscard]] virtual Result<std::optional<v1::Enrolment>> enrolment() = 0;
  /// The newest head of the base seen so far; size 0 = none.
  [[nodiscard]] virtual Result<record::Checkpoint> seen_head() = 0;

  // All of these are on disk when they return.
  [[nodiscard]] virtual Status keep_enrolment(const v1::Enrolment& enrolment) = 0;
  /// The enrolment again, with the base's newer rosters.
  [[nodiscard]] virtual Status keep_rosters(const v1::Enrolment& enrolment) = 0;
  /// The base is in a later generation, from this leaf on; the newest head seen is now this one.
  [[nodiscard]] virtual Status keep_generation(const v1::Enrolment& enrolment, uint64_t leaf,
                                               const record::Checkpoint& head) = 0;
  /// A new epoch is about to be opened.
  [[nodiscard]] virtual Status begin_epoch(const v1::Recovery& recovery) = 0;
  /// Entries of this truck that its disk has lost and the base gives back.
  [[nodiscard]] virtual Status keep_returned(const v1::Returned& page) = 0;
  /// Begins the chain of the epoch, and brings in what this disk has beyond `common` (recovery.h).
  /// If that is cut short it is finished at the next start.
  [[nodiscard]] virtual Status open_epoch(const v1::Recovery& recovery) = 0;
  /// Two copies of this truck exist: this one makes itself a mark, once a fork.
  [[nodiscard]] virtual Status mark_copy(uint64_t fork_leaf) = 0;
  [[nodiscard]] virtual Status keep_ack(const v1::Ack& ack) = 0;
  /// The base has proved that this entry stands in its tree.
  [[nodiscard]] virtual Status keep_receipt(const v1::Receipt& receipt) = 0;
  /// The base wants the entries after this one (again). Where this truck has freed bodies of such
  /// entries an entry of its own says, once, which are lost.
  [[nodiscard]] virtual Status say_lost(uint32_t epoch, uint64_t acked_seq) = 0;
  [[nodiscard]] virtual Status keep_head(const record::Checkpoint& head,
                                         const std::string& note) = 0;
  /// The newest countersigned head, with all its signature lines.
  [[nodiscard]] virtual Status keep_cosigned(const record::Checkpoint& head,
                                             const std::string& note) = 0;
  /// Keeps the orders and shows them to the truck; one already held is left alone.
  [[nodiscard]] virtual Status keep_orders(const v1::Orders& orders) = 0;
  /// Leaf after the newest order held; 0 = none.
  [[nodiscard]] virtual Result<uint64_t> orders_from_leaf() = 0;
};

}  // namespace fairlead::uplink
