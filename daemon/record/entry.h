// The entry: one signed unit of the record. A fixed header of 224 bytes, big-endian, and an Ed25519
// signature of 64 bytes over "fairlead/entry/v1\n" || header. Its body travels and is stored beside
// it and is bound by header field body_commit (commitment.h). The stored bytes are the canonical
// form: nothing is encoded again before it is hashed or verified.
//
//    0 magic "FLE1"     40 epoch u32         120 time_source u8         184 body_len u32
//    4 kind u8          44 key_id 4          121 zero 3                 188 zero u32
//    5 flags u8 = 0     48 seq u64           124 time_uncertainty_ms    192 body_commit 32
//    6 zero u16         56 prev 32           128 seen_size u64          224 signature 64
//    8 ledger_id 16     88 wall_us i64       136 seen_root 32
//   24 device_id 16     96 mono_us u64       168 job_id 16
//                      104 boot_id 16
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "daemon/base/bytes.h"
#include "daemon/base/crypto.h"
#include "daemon/base/result.h"

namespace fairlead::record {

using Id16 = ByteArray<16>;
using KeyId = ByteArray<4>;

inline constexpr size_t kHeaderSize = 224;
inline constexpr size_t kEntrySize = 288;
inline constexpr uint32_t kMaxBodySize = 61'440;
using HeaderBytes = ByteArray<kHeaderSize>;
using EntryBytes = ByteArray<kEntrySize>;

/// What a body holds; proto/fairlead/v1/record.proto has one message a kind.
enum class Kind : uint8_t {
  kObservations = 1,
  kStrip = 2,
  kCard = 3,
  kJobOpen = 4,
  kJobClose = 5,
  kClock = 6,
  kGap = 7,
  kDrop = 8,
  kStart = 9,
  kStop = 10,
  kRecovered = 11,
  kInForce = 12,
  // From here on only a base writes.
  kRoster = 64,
  kEnrol = 65,
  kRevoke = 66,
  kRotate = 67,
  kFork = 68,
  kRestore = 69,
  kFinding = 70,
  kClaim = 71,
  kHold = 72,
  kHoldEnd = 73,
  kErase = 74,
  kDiskFull = 75,
  kReportIssued = 76,
  kHeadCosigned = 77,
  kRegister = 78,
  kRefused = 79,
  kOrder = 80,
  kAlarm = 81,
};

enum class TimeSource : uint8_t { kNone = 0, kRtc = 1, kNtp = 2, kGnss = 3 };

struct EntryHeader {
  Kind kind = Kind::kObservations;
  Id16 ledger_id{};
  Id16 device_id{};
  uint32_t epoch = 1;  // From 1.
  KeyId key_id{};      // A hint only; sign_entry fills it in.
  uint64_t seq = 1;    // From 1, no gaps.
  Hash prev{};         // chain_of the entry before, or a genesis hash at seq 1.
  int64_t wall_us = 0;
  uint64_t mono_us = 0;
  Id16 boot_id{};
  TimeSource time_source = TimeSource::kNone;
  uint32_t time_uncertainty_ms = 0;
  uint64_t seen_size = 0;  // Newest base head this device knows; 0 = none, then seen_root is zero.
  Hash seen_root{};
  Id16 job_id{};  // Zero = none.
  uint32_t body_len = 0;
  Hash body_commit{};

  bool operator==(const EntryHeader&) const = default;
};

/// True for a number of the list above.
[[nodiscard]] bool is_kind(uint8_t number);
/// "JOB_OPEN"; "kind 200" for a number outside the list.
[[nodiscard]] std::string kind_name(Kind kind);
/// Kinds only a base writes (64 and up).
[[nodiscard]] constexpr bool is_base_kind(Kind kind) { return static_cast<uint8_t>(kind) >= 64; }
/// Base kinds a service key may sign; the other base kinds need an admin key.
[[nodiscard]] bool is_service_kind(Kind kind);

[[nodiscard]] HeaderBytes encode_header(const EntryHeader& header);

/// Reads a header of exactly 224 bytes, or of an entry of exactly 288 (its signature is not looked
/// at). Errors: kBadInput naming the field: wrong length, magic, unknown kind or time source, flags
/// or filler not zero, epoch or seq 0, body over the cap, a seen_root without a seen_size.
[[nodiscard]] Result<EntryHeader> decode_header(std::string_view bytes);
[[nodiscard]] inline Result<EntryHeader> decode_header(const EntryBytes& entry) {
  return decode_header(view_of(entry));
}

/// Encodes with the signer's key_id and signs. The header must be one decode_header accepts.
[[nodiscard]] EntryBytes sign_entry(EntryHeader header, const SecretKey& key);
[[nodiscard]] bool verify_entry(const EntryBytes& entry, const PublicKey& key);

/// SHA-256("fairlead/chain/v1\n" || entry): the next entry's prev.
[[nodiscard]] Hash chain_of(const EntryBytes& entry);
/// prev of a device's seq 1: `anchor` is the leaf hash of its ENROL entry (epoch 1) or of the
/// RESTORE entry that opened its epoch; of a base key's seq 1: `anchor` is SHA-256 of the roster's
/// bytes. SHA-256("fairlead/genesis/v1\n" || anchor).
[[nodiscard]] Hash genesis_of(const Hash& anchor);

/// First 16 bytes of SHA-256 of a checkpoint origin ("base/fairlead/g1").
[[nodiscard]] Id16 ledger_id_of(std::string_view origin);
/// First 4 bytes of SHA-256 of the public key.
[[nodiscard]] KeyId key_id_of(const PublicKey& key);

}  // namespace fairlead::record
