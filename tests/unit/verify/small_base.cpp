#include "tests/unit/verify/small_base.h"

#include <set>

#include "daemon/record/job_span.h"

namespace fairlead {
namespace {

record::VerifierKey named(const std::string& name, record::NoteKeyType type, const SecretKey& key) {
  return record::make_verifier_key(name, type, key.public_key()).value();
}

constexpr int64_t kStart_us = 1'772'445'600'000'000;  // 2026-03-02T10:00:00Z.

}  // namespace

SmallBase::SmallBase() {
  log = named("lot.example/fairlead/g1", record::NoteKeyType::kEd25519, log_key);
  countersigner = named("insurer.example/w1", record::NoteKeyType::kCosignature, countersigner_key);
  record::Roster names;
  names.base_name = "lot.example";
  names.root = named("lot.example/fairlead/root", record::NoteKeyType::kEd25519, root_key);
  names.log = log;
  names.admins.push_back(
      {admin.id, named("lot.example/fairlead/admin", record::NoteKeyType::kEd25519, admin.key)});
  names.services.push_back({service.id, named("lot.example/fairlead/watch",
                                              record::NoteKeyType::kEd25519, service.key)});
  roster = record::sign_roster(names, root_key).value();
  admin.prev = service.prev = record::genesis_of(record::roster_fingerprint(roster));
  v1::RosterBody body;
  body.set_note(roster);
  write(admin, record::Kind::kRoster, body.SerializeAsString());
}

uint64_t SmallBase::write(Writer& writer, record::Kind kind, const std::string& body,
                          const record::Id16& job) {
  Leaf leaf;
  leaf.body = body;
  leaf.salt = random_array<16>();
  record::EntryHeader& h = leaf.header;
  h.kind = kind;
  h.ledger_id = record::ledger_id_of(origin());
  h.device_id = writer.id;
  h.epoch = writer.epoch;
  h.seq = ++writer.seq;
  h.prev = writer.prev;
  h.wall_us = kStart_us + static_cast<int64_t>(leaves.size()) * 1'000'000;
  h.mono_us = leaves.size() * 1'000'000;
  h.job_id = job;
  h.seen_size = seen_size;
  if (seen_size > 0) h.seen_root = tree_.root(seen_size);
  EXPECT_TRUE(record::bind_body(h, leaf.salt, body).has_value());
  leaf.entry = record::sign_entry(h, writer.key);
  h = record::decode_header(leaf.entry).value();
  leaf.recv_us = h.wall_us + 500'000;
  writer.prev = record::chain_of(leaf.entry);
  tree_.add_leaf_hash(record::leaf_hash_of(leaf.entry, leaf.recv_us));
  leaves.push_back(leaf);
  return leaves.size() - 1;
}

void SmallBase::append(const Leaf& leaf) {
  tree_.add_leaf_hash(record::leaf_hash_of(leaf.entry, leaf.recv_us));
  leaves.push_back(leaf);
}

uint64_t SmallBase::enrol(Writer& device, v1::EnrolBody::Kind kind) {
  v1::EnrolBody body;
  body.set_device_id(string_of(device.id));
  body.set_public_key(string_of(device.key.public_key().bytes));
  body.set_device_name("truck-7");
  body.set_kind(kind);
  const uint64_t leaf = write(admin, record::Kind::kEnrol, body.SerializeAsString());
  device.prev = record::genesis_of(tree_.leaves().back());
  return leaf;
}

void SmallBase::sign_head(bool cosign) {
  const record::Checkpoint checkpoint{origin(), leaves.size(), tree_.root(leaves.size())};
  std::string note = record::sign_checkpoint(checkpoint, log, log_key).value();
  if (cosign) {
    note += record::cosignature_line(record::format_checkpoint(checkpoint), countersigner,
                                     countersigner_key,
                                     static_cast<uint64_t>(kStart_us / 1'000'000) + leaves.size())
                .value();
  }
  heads_.push_back(note);
}

void SmallBase::rewrite(std::vector<Leaf> changed) {
  for (Writer* own : {&admin, &service}) {
    own->seq = 0;
    own->prev = record::genesis_of(record::roster_fingerprint(roster));
  }
  tree_ = MemoryTree();
  heads_.clear();
  leaves.clear();
  for (Leaf& leaf : changed) {
    for (Writer* own : {&admin, &service}) {
      if (leaf.header.device_id != own->id) continue;
      leaf.header.seq = ++own->seq;
      leaf.header.prev = own->prev;
      leaf.header.seen_size = std::min<uint64_t>(leaf.header.seen_size, leaves.size());
      leaf.header.seen_root =
          leaf.header.seen_size > 0 ? tree_.root(leaf.header.seen_size) : Hash{};
      EXPECT_TRUE(record::bind_body(leaf.header, leaf.salt, leaf.body).has_value());
      leaf.entry = record::sign_entry(leaf.header, own->key);
      own->prev = record::chain_of(leaf.entry);
    }
    tree_.add_leaf_hash(record::leaf_hash_of(leaf.entry, leaf.recv_us));
    leaves.push_back(std::move(leaf));
  }
}

record::BundleEntry SmallBase::entry_of(uint64_t leaf, const record::Bundle& shown) const {
  const Leaf& from = leaves[leaf];
  record::BundleEntry out;
  out.leaf = leaf;
  out.recv_us = from.recv_us;
  out.entry = from.entry;
  const auto size = record::parse_checkpoint(record::parse_note(shown.heads.back())->text)->size;
  out.path = tree_.inclusion(leaf, size);
  return out;
}

record::Bundle SmallBase::bundle(const record::Id16& job, const Writer& device) {
  record::Bundle out;
  v1::BundleMeta meta;
  meta.set_origin(origin());
  meta.set_job_id(string_of(job));
  meta.set_device_id(string_of(device.id));
  out.meta = kept_.emplace_back(meta.SerializeAsString());
  for (const std::string& head : heads_) out.heads.push_back(head);
  out.roster = roster;
  record::JobSpan span{job, device.id, {1, UINT64_MAX}, std::nullopt};
  for (const Leaf& leaf : leaves) {
    if (leaf.header.job_id != job || leaf.header.device_id != device.id) continue;
    const auto place = record::place_of(leaf.header);
    if (leaf.header.kind == record::Kind::kJobOpen) span.open = std::min(span.open, place);
    if (leaf.header.kind == record::Kind::kJobClose) span.close = place;
  }
  std::set<uint64_t> sizes;
  const auto size = record::parse_checkpoint(record::parse_note(heads_.back())->text)->size;
  for (uint64_t leaf = 0; leaf < size; ++leaf) {
    const Leaf& from = leaves[leaf];
    record::BundleEntry entry = entry_of(leaf, out);
    if (record::is_base_kind(from.header.kind) || record::must_show_body(from.header, span)) {
      entry.form = record::BodyForm::kBody;
      entry.salt = from.salt;
      entry.body = from.body;
    }
    out.entries.push_back(std::move(entry));
    if (from.header.seen_size > 0) sizes.insert(from.header.seen_size);
  }
  for (const std::string& head : heads_) {
    sizes.insert(record::parse_checkpoint(record::parse_note(head)->text)->size);
  }
  for (uint64_t from : sizes) {
    if (from < size) out.consistency.push_back({from, tree_.consistency(from, size)});
  }
  return out;
}

std::string SmallBase::seal(const record::Bundle& bundle) const {
  auto bytes = record::write_bundle(bundle, origin(), log, log_key);
  EXPECT_TRUE(bytes.has_value()) << (bytes ? "" : bytes.error().message);
  return bytes.value_or("");
}

verifier::Policy SmallBase::policy(bool with_countersigner) const {
  verifier::Policy out;
  out.log = log;
  out.rosters.push_back(record::roster_fingerprint(roster));
  if (with_countersigner) out.countersigners.push_back(countersigner);
  return out;
}

}  // namespace fairlead
