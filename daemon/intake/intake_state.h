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

namespace fairlead::intake {

inline constexpr int kBatchEntries = 256;
inline constexpr size_t kBatchBytes = size_t{1} << 20;
inline constexpr uint32_t kWindowEntries = 1'024;
inline constexpr uint32_t kWindowBytes = uint32_t{4} << 20;

struct TakenBody {
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
  /// `enrols`: an unknown device is enrolled at its first hello.
  IntakeState(ledger::Ledger& ledger, Devices& devices, bool enrols)
      : ledger_(ledger), devices_(devices), enrols_(enrols) {}

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
  /// Orders of this device from the wanted leaf on; moves it past them. Empty message: none.
  [[nodiscard]] Result<v1::Orders> orders();

  [[nodiscard]] bool greeted() const { return device_.has_value(); }
  [[nodiscard]] const Device& device() const { return *device_; }
  [[nodiscard]] uint64_t acked_seq() const { return mark_.seq; }

 private:
  Step take_hello(const v1::Hello& hello);
  Step take_batch(v1::EntryBatch& batch);
  Step take_body(v1::BodyLater& later);
  /// Known or newly enrolled. Errors: kDenied with words for the truck's people.
  Result<Device> meet(const v1::Hello& hello);
  Result<v1::Resume> resume(const v1::Hello& hello);
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
  std::optional<Device> device_;
  ledger::Watermark mark_;
  std::vector<record::EntryBytes> under_way_;  // Handed out to append, in order.
  std::optional<v1::Refusal> refusal_after_;   // Of an entry behind those.
  uint64_t receipted_seq_ = 0;
  uint64_t told_size_ = 0;
  uint64_t orders_from_ = 0;
};

}  // namespace fairlead::intake
