#include "daemon/record/entry.h"

namespace fairlead::record {
namespace {

constexpr std::string_view kMagic = "FLE1";
constexpr std::string_view kSignLabel = "fairlead/entry/v1\n";
constexpr std::string_view kChainLabel = "fairlead/chain/v1\n";
constexpr std::string_view kGenesisLabel = "fairlead/genesis/v1\n";

// Offsets of the header, as in entry.h.
enum At : size_t {
  kAtKind = 4,
  kAtFlags = 5,
  kAtZero1 = 6,
  kAtLedger = 8,
  kAtDevice = 24,
  kAtEpoch = 40,
  kAtKeyId = 44,
  kAtSeq = 48,
  kAtPrev = 56,
  kAtWall = 88,
  kAtMono = 96,
  kAtBoot = 104,
  kAtTimeSource = 120,
  kAtZero2 = 121,
  kAtUncertainty = 124,
  kAtSeenSize = 128,
  kAtSeenRoot = 136,
  kAtJob = 168,
  kAtBodyLen = 184,
  kAtZero3 = 188,
  kAtCommit = 192,
};

struct KindName {
  Kind kind;
  const char* name;
};
constexpr KindName kKindNames[] = {
    {Kind::kObservations, "OBSERVATIONS"},
    {Kind::kStrip, "STRIP"},
    {Kind::kCard, "CARD"},
    {Kind::kJobOpen, "JOB_OPEN"},
    {Kind::kJobClose, "JOB_CLOSE"},
    {Kind::kClock, "CLOCK"},
    {Kind::kGap, "GAP"},
    {Kind::kDrop, "DROP"},
    {Kind::kStart, "START"},
    {Kind::kStop, "STOP"},
    {Kind::kRecovered, "RECOVERED"},
    {Kind::kInForce, "IN_FORCE"},
    {Kind::kRoster, "ROSTER"},
    {Kind::kEnrol, "ENROL"},
    {Kind::kRevoke, "REVOKE"},
    {Kind::kRotate, "ROTATE"},
    {Kind::kFork, "FORK"},
    {Kind::kRestore, "RESTORE"},
    {Kind::kFinding, "FINDING"},
    {Kind::kClaim, "CLAIM"},
    {Kind::kHold, "HOLD"},
    {Kind::kHoldEnd, "HOLD_END"},
    {Kind::kErase, "ERASE"},
    {Kind::kDiskFull, "DISK_FULL"},
    {Kind::kReportIssued, "REPORT_ISSUED"},
    {Kind::kHeadCosigned, "HEAD_COSIGNED"},
    {Kind::kRegister, "REGISTER"},
    {Kind::kRefused, "REFUSED"},
    {Kind::kOrder, "ORDER"},
    {Kind::kAlarm, "ALARM"},
};

template <size_t N>
void put(HeaderBytes& out, size_t at, const ByteArray<N>& bytes) {
  std::memcpy(out.data() + at, bytes.data(), N);
}

template <size_t N>
void get(const uint8_t* in, size_t at, ByteArray<N>& bytes) {
  std::memcpy(bytes.data(), in + at, N);
}

bool all_zero(const uint8_t* in, size_t size) {
  return std::all_of(in, in + size, [](uint8_t b) { return b == 0; });
}

std::unexpected<Error> bad(std::string_view words) {
  return fail(Code::kBadInput, "entry header: " + std::string(words));
}

Status check_form(const uint8_t* in) {
  if (std::memcmp(in, kMagic.data(), kMagic.size()) != 0) {
    return bad("magic is not \"FLE1\"; these bytes are not an entry");
  }
  if (!is_kind(in[kAtKind])) {
    return bad("kind " + std::to_string(in[kAtKind]) + " is unknown; a newer program wrote it");
  }
  if (in[kAtFlags] != 0) return bad("flags must be 0");
  if (!all_zero(in + kAtZero1, 2) || !all_zero(in + kAtZero2, 3) || !all_zero(in + kAtZero3, 4)) {
    return bad("filler bytes must be zero");
  }
  if (in[kAtTimeSource] > static_cast<uint8_t>(TimeSource::kGnss)) {
    return bad("time_source " + std::to_string(in[kAtTimeSource]) + " is unknown");
  }
  return {};
}

Status check_values(const EntryHeader& header) {
  if (header.epoch == 0) return bad("epoch must be at least 1");
  if (header.seq == 0) return bad("seq must be at least 1");
  if (header.seen_size == 0 && !is_zero(header.seen_root)) {
    return bad("seen_root must be zero while seen_size is 0");
  }
  if (header.body_len > kMaxBodySize) {
    return bad("body_len " + std::to_string(header.body_len) + " is over the cap of " +
               std::to_string(kMaxBodySize));
  }
  return {};
}

std::string_view header_part(const EntryBytes& entry) {
  return view_of(entry).substr(0, kHeaderSize);
}

}  // namespace

bool is_kind(uint8_t number) {
  return (number >= 1 && number <= 12) || (number >= 64 && number <= 81);
}

std::string kind_name(Kind kind) {
  for (const KindName& entry : kKindNames) {
    if (entry.kind == kind) return entry.name;
  }
  return "kind " + std::to_string(static_cast<unsigned>(kind));
}

bool is_service_kind(Kind kind) {
  return kind == Kind::kFinding || kind == Kind::kHeadCosigned || kind == Kind::kRefused;
}

HeaderBytes encode_header(const EntryHeader& h) {
  HeaderBytes out{};
  std::memcpy(out.data(), kMagic.data(), kMagic.size());
  out[kAtKind] = static_cast<uint8_t>(h.kind);
  put(out, kAtLedger, h.ledger_id);
  put(out, kAtDevice, h.device_id);
  put_be(&out[kAtEpoch], h.epoch);
  put(out, kAtKeyId, h.key_id);
  put_be(&out[kAtSeq], h.seq);
  put(out, kAtPrev, h.prev);
  put_be(&out[kAtWall], static_cast<uint64_t>(h.wall_us));
  put_be(&out[kAtMono], h.mono_us);
  put(out, kAtBoot, h.boot_id);
  out[kAtTimeSource] = static_cast<uint8_t>(h.time_source);
  put_be(&out[kAtUncertainty], h.time_uncertainty_ms);
  put_be(&out[kAtSeenSize], h.seen_size);
  put(out, kAtSeenRoot, h.seen_root);
  put(out, kAtJob, h.job_id);
  put_be(&out[kAtBodyLen], h.body_len);
  put(out, kAtCommit, h.body_commit);
  return out;
}

Result<EntryHeader> decode_header(std::string_view bytes) {
  if (bytes.size() != kHeaderSize && bytes.size() != kEntrySize) {
    return bad("has " + std::to_string(bytes.size()) + " bytes; give 224, or an entry of 288");
  }
  const auto* in = reinterpret_cast<const uint8_t*>(bytes.data());
  if (auto form = check_form(in); !form) return std::unexpected(form.error());
  EntryHeader h;
  h.kind = static_cast<Kind>(in[kAtKind]);
  get(in, kAtLedger, h.ledger_id);
  get(in, kAtDevice, h.device_id);
  h.epoch = get_be<uint32_t>(in + kAtEpoch);
  get(in, kAtKeyId, h.key_id);
  h.seq = get_be<uint64_t>(in + kAtSeq);
  get(in, kAtPrev, h.prev);
  h.wall_us = static_cast<int64_t>(get_be<uint64_t>(in + kAtWall));
  h.mono_us = get_be<uint64_t>(in + kAtMono);
  get(in, kAtBoot, h.boot_id);
  h.time_source = static_cast<TimeSource>(in[kAtTimeSource]);
  h.time_uncertainty_ms = get_be<uint32_t>(in + kAtUncertainty);
  h.seen_size = get_be<uint64_t>(in + kAtSeenSize);
  get(in, kAtSeenRoot, h.seen_root);
  get(in, kAtJob, h.job_id);
  h.body_len = get_be<uint32_t>(in + kAtBodyLen);
  get(in, kAtCommit, h.body_commit);
  if (auto values = check_values(h); !values) return std::unexpected(values.error());
  return h;
}

EntryBytes sign_entry(EntryHeader header, const SecretKey& key) {
  header.key_id = key_id_of(key.public_key());
  const HeaderBytes bytes = encode_header(header);
  std::string message(kSignLabel);
  message += view_of(bytes);
  const Signature signature = key.sign(message);
  EntryBytes out;
  std::memcpy(out.data(), bytes.data(), kHeaderSize);
  std::memcpy(out.data() + kHeaderSize, signature.bytes.data(), signature.bytes.size());
  return out;
}

bool verify_entry(const EntryBytes& entry, const PublicKey& key) {
  std::string message(kSignLabel);
  message += header_part(entry);
  Signature signature;
  std::memcpy(signature.bytes.data(), entry.data() + kHeaderSize, signature.bytes.size());
  return verify(key, message, signature);
}

Hash chain_of(const EntryBytes& entry) { return sha256({kChainLabel, view_of(entry)}); }

Hash genesis_of(const Hash& anchor) { return sha256({kGenesisLabel, view_of(anchor)}); }

Id16 ledger_id_of(std::string_view origin) {
  const Hash hash = sha256(origin);
  Id16 out;
  std::memcpy(out.data(), hash.data(), out.size());
  return out;
}

KeyId key_id_of(const PublicKey& key) {
  const Hash hash = sha256(view_of(key.bytes));
  KeyId out;
  std::memcpy(out.data(), hash.data(), out.size());
  return out;
}

}  // namespace fairlead::record
