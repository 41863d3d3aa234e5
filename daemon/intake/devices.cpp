#include "daemon/intake/devices.h"

#include <fmt/format.h>

#include <sstream>

#include "daemon/record/leaf.h"

namespace fairlead::intake {

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
  device.enrolment.set_roster(office_.roster_note());
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
  return load_forks();
}

Result<Device> Devices::enrol(const v1::EnrolBody& body) {
  const std::lock_guard one(enrolling_);
  for (const Device& known : all()) {
    const bool same_id = body.device_id() == view_of(known.id);
    const bool same_key = body.public_key() == view_of(known.key.bytes);
    if (same_id && same_key) return known;
    if (same_id || same_key || body.device_name() == known.name) {
      return fail(Code::kConflict,
                  fmt::format("'{}' is already enrolled with another key; give this device another "
                              "name, or restore the old device's key file",
                              known.name));
    }
  }
  const auto written = office_.write(record::Kind::kEnrol, {}, body);
  if (!written) return std::unexpected(written.error());
  const auto stored = office_.ledger().entry(written->leaf);
  if (!stored) return std::unexpected(stored.error());
  return remember(stored->leaf, stored->recv_us, stored->entry, body);
}

std::optional<Device> Devices::find(const record::Id16& id) const {
  const std::lock_guard lock(mutex_);
  const auto it = devices_.find(id);
  return it == devices_.end() ? std::nullopt : std::optional(it->second);
}

std::optional<Device> Devices::find_name(const std::string& name) const {
  for (const Device& device : all()) {
    if (device.name == name) return device;
  }
  return std::nullopt;
}

std::vector<Device> Devices::all() const {
  const std::lock_guard lock(mutex_);
  std::vector<Device> out;
  for (const auto& [id, device] : devices_) out.push_back(device);
  return out;
}

Result<v1::EnrolBody> enrolment_of_line(const std::string& line) {
  std::istringstream in(line);
  std::string word, name, id, key;
  in >> word >> name >> id >> key;
  if (word != "fairlead-device-v1" || key.empty()) {
    return fail(Code::kBadInput,
                "this is no device line; give the device.pub file of the truck's data folder");
  }
  const auto id_bytes = array_of_hex<16>(id, "device id");
  if (!id_bytes) return std::unexpected(id_bytes.error());
  const auto key_text = bytes_of_base64(key, "device key");
  if (!key_text) return std::unexpected(key_text.error());
  const auto key_bytes = array_of<32>(*key_text, "device key");
  if (!key_bytes) return std::unexpected(key_bytes.error());
  v1::EnrolBody body;
  body.set_device_id(string_of(*id_bytes));
  body.set_public_key(string_of(*key_bytes));
  body.set_device_name(name);
  body.set_truck(name);
  body.set_kind(v1::EnrolBody::TRUCK);
  return body;
}

}  // namespace fairlead::intake
