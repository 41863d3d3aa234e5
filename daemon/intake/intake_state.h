// The base's side of store and forward, without any network: what a shipment means, what to append,
// what to answer. One object a stream.
//
// take() says what to append; after the ledger's durable answer appended() or body_appended() says
// what to reply. The next shipment of the stream is taken only then. The ledger itself checks form,
// signature, order, chain and commitment; here stand the checks of who may send what.
// Threads: one at a time; take() may block on the ledger.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "daemon/intake/devices.h"
#include "daemon/ledger/ledger.h"
#include "daemon/watch/cosigned_heads.h"

namespace fairlead::intake {

inline constexpr int kBatchEntries = 256;
inline constexpr size_t kBatchBytes = size_t{1} << 20;
inline constexpr uint32_t kWindowEntries = 1'024;
inline constexpr uint32_t kWindowBytes = uint32_t{4} << 20;

struct TakenBody {
  uint32_t epoch = 0;  // 0 = the newest.
  uint64_t seq = 0;
  record::Salt salt{};
  std::string body;
};

/// What follows from a shipment. A refusal ends the stream; one that follows good entries of the
/// same batch comes from appended().
struct Step {
  std::vector<v1::Reply> replies;
  std::vector<ledger::SentEntry> append;
  std::optional<TakenBody> body;
  /// Orders from this leaf on are wanted.
  std::optional<uint64_t> orders_from_leaf;
  std::optional<v1::Refusal> refusal;
  /// Two different entries under one number.
  std::optional<v1::ForkBody> fork;
};

class IntakeState {
 public:
  /// `enrols`: an unknown device is enrolled at its first hello. `certified`: the only device this
  /// stream may speak for, by its certificate; absent for a caller on this machine.
  IntakeState(ledger::Ledger& ledger, Devices& devices, bool enrols,
              std::optional<record::Id16> certified = {})
      : ledger_(ledger), devices_(devices), enrols_(enrols && !certified), certified_(certified) {}

  [[nodiscard]] Step take(v1::Shipment shipment);
  /// What the ledger made of the last step's entries.
  [[nodiscard]] Step appended(const Result<std::vector<ledger::AppendResult>>& results);
  /// What it made of its body.
  [[nodiscard]] Step body_appended(const Result<std::vector<ledger::AppendResult>>& results);

  /// Receipt for the newest acknowledged entry under this head; nullopt when it was given already
  /// or the head does not cover it yet.
  [[nodiscard]] std::optional<v1::Reply> receipt(const ledger::SignedHead& head);
  /// The head as news for this truck, with its consistency from the last one told.
  [[nodiscard]] std::optional<v1::Reply> head_news(const ledger::SignedHead& head);
  /// Adds the newest countersigned head to that news, where this truck was not told it yet.
  void add_cosigned(const watch::CosignedHeads& cosigned, const ledger::SignedHead& head,
                    v1::Reply& news);
  /// Orders of this device from the wanted leaf on; moves it past them. Empty message: none.
  [[nodiscard]] Result<v1::Orders> orders();

  /// Another run of the truck's program has called: of this stream only the answer to a probe is
  /// taken from now on. It shows that both live: two copies.
  [[nodiscard]] v1::Reply retire();

  [[nodiscard]] bool greeted() const { return device_.has_value(); }
  [[nodiscard]] bool retired() const { return retired_; }
  [[nodiscard]] const std::string& session() const { return hello_.session(); }
  [[nodiscard]] const Device& device() const { return *device_; }
  [[nodiscard]] uint64_t acked_seq() const { return mark_.seq; }

 private:
  Step take_hello(const v1::Hello& hello);
  Step take_batch(v1::EntryBatch& batch);
  Step take_body(v1::BodyLater& later);
  Step take_differs(const v1::Differs& differs);
  Step take_probe_answer(const v1::ProbeAnswer& answer);
  /// The truck lacks what this base holds, or holds other entries: what to write about it.
  Result<v1::RestoreBody> restore_for(const v1::Differs& differs,
                                      std::optional<v1::ForkBody>& fork);
  /// Two entries under one number, if the truck's own is another than the one here.
  Result<std::optional<v1::ForkBody>> fork_with(const v1::Differs& differs) const;
  Status find_common(const v1::Differs& differs, v1::Place& common) const;
  Result<v1::Restored> restored(const v1::Differs& differs) const;
  /// What the truck lacks after this place, at most a message full; empty when there is no more.
  Result<v1::Returned> returned_after(const v1::Place& place) const;
  /// Why this device is not let in, if it is not; notes which copy called.
  std::optional<v1::Refusal> check_copy(const Device& device, const v1::Hello& hello);
  /// The truck's epoch against the base's: one that was never opened here, or one that ended long
  /// ago. What follows, if it does not fit.
  std::optional<Step> check_epoch(const Device& device);
  /// Empty when the body holds an entry this device signed in an earlier epoch.
  std::string wrong_with_recovered(const record::EntryHeader& header,
                                   const std::string& body) const;
  /// Of this generation or of one it continues.
  bool is_of_this_ledger(const record::Id16& ledger_id) const;
  v1::Reply probe();
  /// Known or newly enrolled. Errors: kDenied with words for the truck's people.
  Result<Device> meet(const v1::Hello& hello);
  Result<Device> change_key(const Device& device, const v1::Hello& hello);
  Result<v1::Resume> resume();
  /// The truck has seen this ledger's past as it is. A refusal otherwise.
  std::optional<v1::Refusal> check_seen(const v1::Hello& hello) const;
  v1::Refusal refuse(v1::Refusal::Reason reason, std::string words) const;
  v1::Refusal busy(const Error& error) const;
  v1::Refusal not_stored(const Error& error) const;
  v1::Reply ack() const;
  static Step refused(v1::Refusal refusal);

  ledger::Ledger& ledger_;
  Devices& devices_;
  bool enrols_;
  std::optional<record::Id16> certified_;
  std::optional<Device> device_;
  v1::Hello hello_;
  std::string nonce_;     // Of the probe that is out.
  bool retired_ = false;  // By a newer stream.
  bool sending_ = false;  // Entries have come: nothing differs any more.
  ledger::Watermark mark_;
  std::vector<record::EntryBytes> under_way_;  // Handed out to append, in order.
  std::optional<v1::Refusal> refusal_after_;   // Of an entry behind those.
  uint64_t receipted_seq_ = 0;
  uint64_t told_size_ = 0;
  uint64_t told_cosigned_ = 0;
  uint64_t orders_from_ = 0;
};

}  // namespace fairlead::intake
