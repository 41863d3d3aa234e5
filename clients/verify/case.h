// The bundle under check, decoded once: what all steps look at, and what earlier steps found out
// for later ones.
//
// Threads: one thread at a time. The bundle's bytes must outlive it.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "clients/verify/policy.h"
#include "clients/verify/verdicts.h"
#include "daemon/record/bundle.h"
#include "daemon/record/checkpoint.h"
#include "daemon/record/job_span.h"
#include "daemon/record/roster.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::verifier {

struct Item {
  const record::BundleEntry* raw = nullptr;
  record::EntryHeader header;
  Hash leaf_hash{};
  bool signed_well = false;  // Step 4.
  bool quarantined = false;  // Step 4: after a REVOKE.
  bool body_bound = false;   // Step 7: the body is there and is the one committed to.

  [[nodiscard]] bool has_body() const { return raw->form == record::BodyForm::kBody; }
};

struct Head {
  record::Checkpoint checkpoint;
  record::Note note;
  std::vector<uint64_t> cosigned_s;  // Times of good cosignatures, Unix seconds.
};

/// A device as its ENROL entry names it.
struct Device {
  uint64_t enrol_leaf = 0;
  Hash enrol_leaf_hash{};
  std::string name;
  bool is_import = false;
  struct Span {
    PublicKey key;
    uint64_t after_leaf = 0;  // Signs entries at later leaves.
  };
  std::vector<Span> keys;
  std::optional<record::ChainPlace> last_trusted;  // Set by REVOKE.
};

/// A report file somebody holds: pages whose words are compared by hash.
struct PagesFile {
  std::string name;
  Hash sha256{};
};

/// A roster and the leaf from which it is in force; the first from leaf 0.
struct RosterSpan {
  record::Roster roster;
  Hash fingerprint{};
  uint64_t from_leaf = 0;
};

/// An earlier generation of the log, as the RESTORE entry that ended it names it.
struct Ancestor {
  std::string origin;
  record::Id16 ledger_id{};
  uint64_t kept_size = 0;  // This log begins with so many of its leaves.
  uint64_t last_size = 0;  // Of the last head of it that the owner knew of.
  std::string roster;      // The note that followed.
  uint64_t leaf = 0;
};

struct Case {
  const Policy& policy;
  record::Bundle bundle;
  v1::BundleMeta meta;
  std::vector<RosterSpan> rosters;  // Section ROSTER, then (step 4) those of ROSTER entries.
  std::vector<Head> heads;
  std::vector<Item> items;  // In leaf order.
  std::optional<record::JobSpan> job;
  std::map<record::Id16, Device> devices;
  std::vector<PagesFile> pages;
  std::vector<Ancestor> ancestors;  // Step 4, oldest first.

  [[nodiscard]] const record::Checkpoint& head() const { return heads.back().checkpoint; }
};

/// The roster in force at a leaf.
[[nodiscard]] const record::Roster& roster_at(const Case& c, uint64_t leaf);
/// The first roster that names this device id among its admins (or services): where the chain
/// begins; nullptr for a device.
[[nodiscard]] const RosterSpan* admin_roster(const Case& c, const record::Id16& device_id);
[[nodiscard]] const RosterSpan* service_roster(const Case& c, const record::Id16& device_id);

/// What an entry is to its job: of one that was brought in again what it was before.
[[nodiscard]] record::Kind kind_in_job(const Item& item);

/// "entry at leaf 17 (JOB_OPEN)".
[[nodiscard]] std::string name_of(const Item& item);

/// Step 0: reads everything that has a form: sections, notes, roster, meta, headers. On failure the
/// verdicts say why and nothing is returned.
[[nodiscard]] std::optional<Case> open_case(std::string_view bytes, const Policy& policy,
                                            Verdicts& verdicts);

/// The committed body of `item` as message T; nullopt when it is not there or not bound.
template <typename T>
[[nodiscard]] std::optional<T> body_as(const Item& item) {
  T message;
  if (!item.has_body() || !record::body_matches(item.header, item.raw->salt, item.raw->body) ||
      !message.ParseFromArray(item.raw->body.data(), static_cast<int>(item.raw->body.size()))) {
    return std::nullopt;
  }
  return message;
}

}  // namespace fairlead::verifier
