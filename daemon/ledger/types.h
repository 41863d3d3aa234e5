// What goes into and comes out of a ledger.
//
// Threads: values only. Times: Unix microseconds. Leaf indices count from 0.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "daemon/record/bundle.h"
#include "daemon/record/commitment.h"
#include "daemon/record/entry.h"

namespace fairlead::ledger {

using record::EntryBytes;
using record::EntryHeader;
using record::Id16;
using record::Kind;
using record::Salt;

/// Where an entry's body stands.
enum class BodyState : uint8_t {
  kFollows = 0,  // Promised, not here yet.
  kHere = 1,
  kErased = 2,
};

/// An entry somebody else signed, as it came.
struct SentEntry {
  EntryBytes entry{};
  BodyState body_state = BodyState::kHere;
  Salt salt{};       // Only with kHere.
  std::string body;  // Only with kHere.
};

/// An entry to be made, numbered, chained and signed by the ledger. Of `header` the caller fills in
/// kind, device_id (whose chain), job_id, times, boot_id and seen head, and ledger_id where the
/// seen head is not of the ledger's own; the rest is the ledger's.
struct OwnEntry {
  EntryHeader header;
  std::string body;
  std::shared_ptr<const SecretKey> key;
};

struct StoredEntry {
  uint64_t leaf = 0;
  int64_t recv_us = 0;
  EntryBytes entry{};
  BodyState body_state = BodyState::kFollows;
  Salt salt{};       // Only with kHere.
  std::string body;  // Only with kHere, and only if asked for.

  [[nodiscard]] EntryHeader header() const { return *record::decode_header(entry); }
};

/// The start of a chain: who signs it and what its seq 1 must name as prev.
struct ChainStart {
  Id16 device_id{};
  uint32_t epoch = 1;
  PublicKey key;
  Hash genesis{};
};

/// How far a chain has come. Durable.
struct Watermark {
  Id16 device_id{};
  uint32_t epoch = 0;
  PublicKey key;           // Valid for the next entry.
  uint64_t seq = 0;        // 0 = nothing yet.
  Hash chain{};            // prev of the next entry.
  uint64_t leaf = 0;       // Of seq; meaningless while seq is 0.
  uint64_t body_seq = 0;   // Every entry up to here has its body, or it is erased.
  uint64_t acked_seq = 0;  // A truck's own chain: durable at the base up to here.
};

enum class Outcome : uint8_t { kStored, kDuplicate, kRefused };

enum class Refusal : uint8_t {
  kNone,
  kBadForm,
  kUnknownDevice,  // No chain for this device and epoch.
  kBadSignature,
  kOutOfOrder,   // seq is not watermark + 1; `mark` says what is expected.
  kBrokenChain,  // prev is not the stored chain.
  kBodyMismatch,
  kFork,  // Same number, other bytes: `kept` is what the ledger holds.
};

struct AppendResult {
  Outcome outcome = Outcome::kRefused;
  Refusal refusal = Refusal::kNone;
  std::string words;   // Of a refusal: what was wrong, what to do.
  uint64_t leaf = 0;   // Of the entry, stored now or before.
  EntryBytes entry{};  // As stored; of an OwnEntry the caller learns its bytes here.
  Watermark mark;      // Of its chain, after the batch.
  std::optional<EntryBytes> kept;
};

/// A signed tree head as published.
struct SignedHead {
  uint64_t size = 0;
  Hash root{};
  std::string note;  // C2SP signed note of a checkpoint.
};

/// A job as its entries show it.
struct JobRow {
  Id16 job_id{};
  Id16 device_id{};  // The opener.
  uint64_t open_leaf = 0;
  std::optional<uint64_t> close_leaf;  // The latest; absent while open.
};

/// A signed entry of the base that a truck keeps (orders, no chain of its own there).
struct HeldOrder {
  uint64_t leaf = 0;  // At the base.
  EntryBytes entry{};
  Salt salt{};
  std::string body;
};

/// Bodies to be deleted, and the ERASE entry that will say so.
struct EraseOrder {
  static constexpr size_t kMostLeaves = 1'000, kMostAttachments = 1'000;
  std::vector<uint64_t> leaves;
  std::string policy, words;
  OwnEntry own;  // Its body is made from what is really deleted.
  bool dry_run = false;
};

struct EraseResult {
  struct Kept {
    uint64_t leaf = 0;
    std::string why;
  };
  size_t taken = 0;  // How many of the order's leaves were looked at; the rest need another order.
  std::vector<uint64_t> leaves;  // Deleted.
  std::vector<Kept> kept;
  std::vector<Hash> attachments;    // Deleted.
  uint64_t attachments_shared = 0;  // Named by an entry that stays.
  std::optional<uint64_t> entry;    // Leaf of ERASE; absent on a dry run or when nothing goes.
  bool wiped = true;                // False: readers still hold the log that has the bytes.
};

/// Samples outside jobs that a truck has given up for want of room.
struct Dropped {
  uint64_t bodies = 0, bytes = 0;
};

/// What a ledger takes in while the disk fills.
enum class Room : uint8_t { kAll, kNoAttachments, kNothing };

struct AuditProgress {
  uint64_t leaves = 0, leaves_total = 0, attachments = 0;
};

struct AuditOptions {
  /// Called every thousand leaves and every attachment; false stops the reading (kUnavailable).
  std::function<bool(const AuditProgress&)> progress;
  /// Of the time, for a reading in the background: 0.25 pauses three times as long as it reads.
  double share = 1;
};

struct AuditReport {
  uint64_t leaves = 0;
  uint64_t bodies = 0;
  uint64_t attachments = 0;
  Hash root{};
  std::vector<std::string> problems;  // Empty = every byte verified. At most 100 are listed.
  uint64_t derived = 0;               // How many problems lie in what can be built again.
};

}  // namespace fairlead::ledger
