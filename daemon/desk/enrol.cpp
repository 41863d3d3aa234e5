#include "daemon/desk/enrol.h"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/record/enrolment.h"
#include "daemon/watch/stamp.h"

namespace fairlead::desk {
namespace {

// What a reader of the two would ask about, one line each.
std::vector<std::string> changes(const record::Roster& before, const record::Roster& next) {
  std::vector<std::string> out;
  const auto keys_of = [](const record::Roster& roster) {
    std::vector<std::pair<std::string, record::VerifierKey>> keys;
    for (const auto& key : roster.admins) keys.emplace_back("admin", key.key);
    for (const auto& key : roster.services) keys.emplace_back("service", key.key);
    for (const auto& key : roster.officers) keys.emplace_back("officer", key);
    return keys;
  };
  const auto old_keys = keys_of(before), new_keys = keys_of(next);
  const auto list = [&](const auto& from, const auto& other, std::string_view word) {
    for (const auto& key : from) {
      if (std::ranges::find(other, key) == other.end())
        out.push_back(fmt::format("{} {} {}", word, key.first, key.second.name));
    }
  };
  list(new_keys, old_keys, "adds");
  list(old_keys, new_keys, "drops");
  return out;
}

/// The trusted place as asked for, checked against what the ledger holds.
Result<v1::RevokeBody> revocation(Desk& desk, const intake::Device& device,
                                  const v1::RevokeTruckRequest& request) {
  const auto mark = desk.ledger().watermark(device.id);
  if (!mark) return std::unexpected(mark.error());
  v1::RevokeBody body;
  body.set_device_id(string_of(device.id));
  body.set_public_key(string_of(device.key.bytes));
  body.set_words(request.words());
  const uint32_t epoch = request.last_epoch() == 0 ? mark->epoch : request.last_epoch();
  const uint64_t seq = request.has_last_seq() ? request.last_seq() : mark->seq;
  body.set_last_epoch(epoch);
  body.set_last_seq(seq);
  if (seq == 0) return body;
  const auto entry = desk.ledger().device_entries(device.id, epoch, seq, 1, false);
  if (!entry) return std::unexpected(entry.error());
  if (entry->empty() || entry->front().header().seq != seq) {
    return fail(Code::kNotFound,
                fmt::format("last: the base holds entries 1 to {} of '{}' in epoch {}", mark->seq,
                            device.name, mark->epoch));
  }
  body.set_last_chain(string_of(record::chain_of(entry->front().entry)));
  return body;
}

}  // namespace

Result<v1::EnrolTruckResponse> enrol_truck(Desk& desk, const v1::EnrolTruckRequest& request) {
  const auto line = record::parse_device_line(request.device_line());
  if (!line) return std::unexpected(line.error());
  if (!request.name().empty() && request.name() != line->name) {
    return fail(Code::kBadInput,
                fmt::format("name: the device calls itself '{}', not '{}'; set name in the truck's "
                            "settings, or enrol it by its own name",
                            line->name, request.name()));
  }
  v1::EnrolTruckResponse response;
  response.set_device_id(hex_of(line->device_id));
  if (const auto known = desk.devices.find(line->device_id); known && known->key == line->key) {
    response.set_already_there(true);
    response.set_leaf_index(known->enrol_leaf);
    return response;
  }
  if (auto ok = desk.devices.codes().check(*line, request.code(), watch::wall_now_us()); !ok) {
    return std::unexpected(ok.error());
  }
  v1::EnrolBody body = intake::enrolment_of(*line);
  body.set_officer(request.officer());
  body.set_officer_signature(request.officer_signature());
  if (request.dry_run()) {
    if (auto ok = desk.devices.check_enrol(body); !ok) return std::unexpected(ok.error());
    return response;
  }
  const auto device = desk.devices.enrol(body);
  if (!device) return std::unexpected(device.error());
  response.set_leaf_index(device->enrol_leaf);
  return response;
}

Result<v1::RevokeTruckResponse> revoke_truck(Desk& desk, const v1::RevokeTruckRequest& request) {
  const auto device = desk.devices.find_name(request.name());
  if (!device || device->kind != v1::EnrolBody::TRUCK) {
    return fail(Code::kNotFound, fmt::format("name: no truck '{}' is enrolled; fairlead status "
                                             "lists them",
                                             request.name()));
  }
  const auto body = revocation(desk, *device, request);
  if (!body) return std::unexpected(body.error());
  const record::ChainPlace last{body->last_epoch(), body->last_seq()};
  if (device->last_trusted && *device->last_trusted <= last) {
    return fail(Code::kConflict, fmt::format("'{}' is revoked already, from entry {} on",
                                             device->name, device->last_trusted->seq + 1));
  }
  v1::RevokeTruckResponse response;
  response.set_last_epoch(body->last_epoch());
  response.set_last_seq(body->last_seq());
  const auto mark = desk.ledger().watermark(device->id);
  if (mark && mark->epoch == body->last_epoch()) {
    response.set_quarantined(mark->seq - std::min(mark->seq, uint64_t{body->last_seq()}));
  }
  if (request.dry_run()) return response;
  const auto leaf = desk.devices.revoke(*body);
  if (!leaf) return std::unexpected(leaf.error());
  response.set_leaf_index(*leaf);
  return response;
}

Result<v1::PutRosterResponse> put_roster(Desk& desk, const v1::PutRosterRequest& request) {
  const auto next = record::open_roster(request.note());
  if (!next) return std::unexpected(next.error());
  v1::PutRosterResponse response;
  response.set_fingerprint(hex_of(record::roster_fingerprint(request.note())));
  for (std::string& line : changes(desk.office.roster(), *next))
    response.add_change(std::move(line));
  if (auto ok = desk.office.check_roster(request.note()); !ok) return std::unexpected(ok.error());
  if (request.dry_run()) return response;
  const auto leaf = desk.office.take_roster(request.note());
  if (!leaf) return std::unexpected(leaf.error());
  response.set_leaf_index(*leaf);
  // What was written again under the new key tells a connected truck to ask for the new roster.
  if (desk.orders_changed) desk.orders_changed();
  return response;
}

Result<v1::ListTrucksResponse> list_trucks(Desk& desk, const v1::ListTrucksRequest&) {
  constexpr size_t kMost = 100'000;
  v1::ListTrucksResponse response;
  for (const intake::Device& device : desk.devices.all()) {
    v1::EnrolledTruck& truck = *response.add_truck();
    truck.set_name(device.name);
    truck.set_device_id(hex_of(device.id));
    truck.set_enrol_leaf(device.enrol_leaf);
    truck.set_imported(device.kind == v1::EnrolBody::IMPORT);
    truck.set_public_key(base64_of(view_of(device.key.bytes)));
    if (device.last_trusted) {
      truck.set_revoked(true);
      truck.set_trusted_epoch(device.last_trusted->epoch);
      truck.set_trusted_seq(device.last_trusted->seq);
    }
    truck.set_connected(desk.connected && desk.connected(device.id));
    if (const auto mark = desk.ledger().watermark(device.id)) {
      truck.set_epoch(mark->epoch);
      truck.set_acked_seq(mark->seq);
    }
    if (const auto missing = desk.ledger().bodies_missing(device.id, kMost)) {
      truck.set_bodies_missing(missing->size());
    }
  }
  return response;
}

}  // namespace fairlead::desk
