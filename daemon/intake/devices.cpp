#include "daemon/intake/devices.h"

#include <fmt/format.h>

#include "daemon/record/leaf.h"

namespace fairlead::intake {
namespace {

constexpr size_t kMostChanges = 100'000;

}  // namespace

Result<Device> Devices::remember(uint64_t leaf, int64_t recv_us, const record::EntryBytes& entry,
                                 const v1::EnrolBody& body) {
  const auto id = array_of<16>(body.device_id(), "enrolment.device_id");
  if (!id) return std::unexpected(id.error());
  const auto key = array_of<32>(body.public_key(), "enrolment.public_key");
  if (!key) return std::unexpected(key.error());
  Device device;
  device.id = *id;
  device.key = PublicKey{*key};
  device.name = body.device_name();
  device.kind = body.kind();
  device.enrol_leaf = leaf;
  device.enrolment.set_origin(office_.origin());
  device.enrolment.set_leaf_index(leaf);
  device.enrolment.set_leaf_data(string_of(record::leaf_data_of(entry, recv_us)));
  const std::lock_guard lock(mutex_);
  devices_[device.id] = device;
  return device;
}

Status Devices::load() {
  constexpr size_t kPage = 1'000;
  for (uint64_t from = 0;;) {
    const auto page = office_.ledger().entries_of_kind(record::Kind::kEnrol, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const auto& stored : *page) {
      v1::EnrolBody body;
      if (!body.ParseFromString(stored.body)) {
        return fail(Code::kCorrupt,
                    fmt::format("leaf {}: the enrolment cannot be read", stored.leaf));
      }
      auto device = remember(stored.leaf, stored.recv_us, stored.entry, body);
      if (!device) return fail_at(fmt::format("leaf {}: ", stored.leaf), device.error());
    }
    if (page->size() < kPage) break;
    from = page->back().leaf + 1;
  }
  for (const auto kind : {record::Kind::kRotate, record::Kind::kRevoke}) {
    const auto changes = office_.ledger().entries_of_kind(kind, 0, kMostChanges);
    if (!changes) return std::unexpected(changes.error());
    for (const auto& stored : *changes) learn(stored);
  }
  return load_forks();
}

// A key change as the ledger holds it. Written by this base itself, so its form is ours.
void Devices::learn(const ledger::StoredEntry& entry) {
  const std::lock_guard lock(mutex_);
  const auto device_of = [&](const std::string& bytes) -> Device* {
    const auto id = array_of<16>(bytes, "device id");
    const auto it = id ? devices_.find(*id) : devices_.end();
    return it == devices_.end() ? nullptr : &it->second;
  };
  if (entry.header().kind == record::Kind::kRotate) {
    v1::RotateBody body;
    if (!body.ParseFromString(entry.body)) return;
    Device* device = device_of(body.device_id());
    const auto key = array_of<32>(body.new_public_key(), "key");
    if (device == nullptr || !key) return;
    device->key_before = device->key;
    device->key = PublicKey{*key};
    return;
  }
  v1::RevokeBody body;
  if (!body.ParseFromString(entry.body)) return;
  Device* device = device_of(body.device_id());
  if (device == nullptr) return;
  const record::ChainPlace place{body.last_epoch(), body.last_seq()};
  if (!device->last_trusted || place < *device->last_trusted) device->last_trusted = place;
}

Status Devices::check_enrol(const v1::EnrolBody& body) const {
  for (const Device& known : all()) {
    const bool same_id = body.device_id() == view_of(known.id);
    const bool same_key = body.public_key() == view_of(known.key.bytes);
    const bool same_name = body.device_name() == known.name && !known.last_trusted;
    if (same_id || same_key || same_name) {
      return fail(Code::kConflict,
                  fmt::format("'{}' is already enrolled with another key; give this device another "
                              "name, restore the old device's key file, or revoke the old key",
                              known.name));
    }
  }
  const record::Roster& roster = office_.roster();
  if (body.kind() != v1::EnrolBody::TRUCK || roster.officers.empty()) return {};
  const auto id = array_of<16>(body.device_id(), "device id");
  const auto key = array_of<32>(body.public_key(), "key");
  const auto binding = array_of<32>(body.code_binding(), "code binding");
  const auto signature = array_of<64>(body.officer_signature(), "officer's signature");
  if (!id || !key || !binding || !signature ||
      !record::is_officer_signed(roster, body.officer(),
                                 record::enrol_statement(*id, PublicKey{*key}, *binding),
                                 Signature{*signature})) {
    return fail(
        Code::kDenied,
        "this base's roster names officers, and none of them has signed for this truck; run "
        "fairlead enrol truck with --officer and the officer's key file");
  }
  return {};
}

Result<Device> Devices::enrol(const v1::EnrolBody& body) {
  const std::lock_guard one(enrolling_);
  for (const Device& known : all()) {
    if (body.device_id() == view_of(known.id) && body.public_key() == view_of(known.key.bytes))
      return *find(known.id);
  }
  if (auto ok = check_enrol(body); !ok) return std::unexpected(ok.error());
  const auto written = office_.write(record::Kind::kEnrol, {}, body);
  if (!written) return std::unexpected(written.error());
  const auto stored = office_.ledger().entry(written->leaf);
  if (!stored) return std::unexpected(stored.error());
  const auto device = remember(stored->leaf, stored->recv_us, stored->entry, body);
  if (!device) return device;
  return *find(device->id);
}

Result<Device> Devices::rotate(const record::Id16& id, const v1::KeyChange& change) {
  const std::lock_guard one(enrolling_);
  const auto known = find(id);
  const auto old_key = array_of<32>(change.old_public_key(), "old key");
  const auto new_key = array_of<32>(change.new_public_key(), "new key");
  const auto old_signature = array_of<64>(change.old_signature(), "old key's signature");
  const auto new_signature = array_of<64>(change.new_signature(), "new key's signature");
  if (!known || !old_key || !new_key || !old_signature || !new_signature) {
    return fail(Code::kDenied, "the change of keys is incomplete; make the new key again");
  }
  const std::string statement =
      record::rotate_statement(id, PublicKey{*old_key}, PublicKey{*new_key});
  if (!verify(PublicKey{*old_key}, statement, Signature{*old_signature}) ||
      !verify(PublicKey{*new_key}, statement, Signature{*new_signature})) {
    return fail(Code::kDenied, "the change of keys is not signed by both keys; make it again");
  }
  if (known->key.bytes == *new_key && known->key_before == PublicKey{*old_key}) return *known;
  if (known->key.bytes != *old_key || known->last_trusted) {
    return fail(Code::kDenied, "the old key is not the one this device is known by, or is revoked");
  }
  v1::RotateBody body;
  body.set_device_id(string_of(id));
  body.set_old_public_key(change.old_public_key());
  body.set_new_public_key(change.new_public_key());
  body.set_old_signature(change.old_signature());
  body.set_new_signature(change.new_signature());
  return written_change(office_.write(record::Kind::kRotate, {}, body), id);
}

Result<uint64_t> Devices::revoke(const v1::RevokeBody& body) {
  const std::lock_guard one(enrolling_);
  const auto id = array_of<16>(body.device_id(), "device id");
  if (!id || !find(*id)) return fail(Code::kNotFound, "no such device is enrolled");
  const auto written = office_.write(record::Kind::kRevoke, {}, body);
  if (auto device = written_change(written, *id); !device) return std::unexpected(device.error());
  return written->leaf;
}

Result<Device> Devices::written_change(const Result<ledger::AppendResult>& written,
                                       const record::Id16& id) {
  if (!written) return std::unexpected(written.error());
  const auto stored = office_.ledger().entry(written->leaf);
  if (!stored) return std::unexpected(stored.error());
  learn(*stored);
  return *find(id);
}

std::optional<Device> Devices::find(const record::Id16& id) const {
  const std::lock_guard lock(mutex_);
  const auto it = devices_.find(id);
  if (it == devices_.end()) return std::nullopt;
  Device device = it->second;
  watch::Office::RosterNotes notes = office_.roster_notes();
  device.enrolment.set_roster(std::move(notes.in_force));
  for (std::string& note : notes.older) device.enrolment.add_older_roster(std::move(note));
  return device;
}

std::optional<Device> Devices::find_name(const std::string& name) const {
  std::optional<Device> found;
  for (const Device& device : all()) {
    if (device.name == name && (!found || !device.last_trusted)) found = device;
  }
  return found;
}

std::vector<Device> Devices::all() const {
  const std::lock_guard lock(mutex_);
  std::vector<Device> out;
  for (const auto& [id, device] : devices_) out.push_back(device);
  return out;
}

v1::EnrolBody enrolment_of(const record::DeviceLine& line) {
  v1::EnrolBody body;
  body.set_device_id(string_of(line.device_id));
  body.set_public_key(string_of(line.key.bytes));
  body.set_device_name(line.name);
  body.set_truck(line.name);
  body.set_kind(v1::EnrolBody::TRUCK);
  body.set_code_binding(string_of(line.binding));
  return body;
}

}  // namespace fairlead::intake
