// The half of Devices about trucks that exist twice or were put back to an older state.
#include <fmt/format.h>

#include <algorithm>

#include "daemon/intake/devices.h"

namespace fairlead::intake {
namespace {

// Runs and copies remembered a device; more come only from somebody who makes them up.
constexpr size_t kMostCallers = 1'000;

template <typename Take>
Status for_all(const ledger::Ledger& ledger, record::Kind kind, Take take) {
  constexpr size_t kPage = 1'000;
  for (uint64_t from = 0;;) {
    const auto page = ledger.entries_of_kind(kind, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const auto& stored : *page) take(stored);
    if (page->size() < kPage) return {};
    from = page->back().leaf + 1;
  }
}

}  // namespace

Status Devices::load_forks() {
  std::map<uint64_t, ledger::StoredEntry> found;  // Both kinds in the order of the ledger.
  for (const auto kind : {record::Kind::kFork, record::Kind::kRestore}) {
    const auto read =
        for_all(office_.ledger(), kind, [&](const auto& stored) { found[stored.leaf] = stored; });
    if (!read) return read;
  }
  for (const auto& [leaf, stored] : found) {
    v1::ForkBody fork;
    v1::RestoreBody restore;
    if (stored.header().kind == record::Kind::kFork) {
      if (fork.ParseFromString(stored.body)) take_fork(leaf, fork);
    } else if (restore.ParseFromString(stored.body)) {
      take_restore(leaf, restore);
    }
  }
  return {};
}

void Devices::take_fork(uint64_t leaf, const v1::ForkBody& body) {
  const auto id = array_of<16>(body.device_id(), "fork.device_id");
  const std::lock_guard lock(mutex_);
  const auto it = id ? devices_.find(*id) : devices_.end();
  if (it == devices_.end()) return;
  it->second.suspended = true;
  if (leaf > 0) it->second.fork_leaf = leaf;  // 0: not written yet.
}

void Devices::take_restore(uint64_t leaf, const v1::RestoreBody& body) {
  const auto id = array_of<16>(body.device_id(), "restore.device_id");
  const std::lock_guard lock(mutex_);
  const auto it = id ? devices_.find(*id) : devices_.end();
  if (it == devices_.end()) return;
  it->second.suspended = false;
  it->second.restore_leaf = leaf;
  if (const auto copy = array_of<16>(body.copy(), "restore.copy")) {
    it->second.chosen = *copy;
    // No other copy comes so far as to be counted from now on.
    callers_[*id].newest.clear();
    callers_[*id].earlier.clear();
  }
}

Status Devices::fork(const v1::ForkBody& body) {
  take_fork(0, body);
  const auto written = office_.write(record::Kind::kFork, {}, body);
  if (!written) return std::unexpected(written.error());
  take_fork(written->leaf, body);
  return {};
}

Result<Device> Devices::restore(const v1::RestoreBody& body,
                                const std::optional<v1::ForkBody>& fork) {
  const std::lock_guard one(enrolling_);
  if (fork) {
    const auto written = office_.write(record::Kind::kFork, {}, *fork);
    if (!written) return std::unexpected(written.error());
    take_fork(written->leaf, *fork);
  }
  const auto written = office_.write(record::Kind::kRestore, {}, body);
  if (!written) return std::unexpected(written.error());
  take_restore(written->leaf, body);
  const auto id = array_of<16>(body.device_id(), "restore.device_id");
  return *find(*id);
}

Result<Device> Devices::decide(const std::string& name, const std::string& mark,
                               const std::string& words) {
  const auto device = find_name(name);
  if (!device) {
    return fail(Code::kNotFound, fmt::format("name: no device '{}' is enrolled; `fairlead device "
                                             "list` names them",
                                             name));
  }
  if (!device->suspended && !device->chosen) {
    return fail(Code::kConflict, fmt::format("'{}' exists only once as far as this base knows; "
                                             "there is nothing to decide",
                                             name));
  }
  const auto copy = find_copy(*device, mark);
  if (!copy) return std::unexpected(copy.error());
  const auto at = office_.ledger().watermark(device->id);
  if (!at) return std::unexpected(at.error());
  v1::RestoreBody body;
  body.set_device_id(string_of(device->id));
  body.set_old_epoch(at->epoch);
  body.set_new_epoch(std::max(at->epoch, copy->epoch) + 1);
  body.set_acked_seq(at->seq);
  body.set_acked_chain(string_of(at->chain));
  body.set_copy(string_of(copy->mark));
  body.set_cause(words.empty() ? "a person chose which copy of this truck goes on" : words);
  return restore(body, std::nullopt);
}

Result<Copy> Devices::find_copy(const Device& device, const std::string& mark) const {
  std::vector<Copy> fitting;
  for (const Copy& copy : copies(device.id)) {
    if (!mark.empty() && hex_of(copy.mark).starts_with(mark)) fitting.push_back(copy);
  }
  if (fitting.size() == 1) return fitting.front();
  if (fitting.size() > 1) {
    return fail(Code::kConflict, "copy: fits more than one copy; give more characters");
  }
  return fail(Code::kNotFound,
              fmt::format("copy: no copy '{}' of '{}' has called since this base was started; "
                          "`fairlead device list` names those that have, `fairlead status` on a "
                          "truck its own",
                          mark, device.name));
}

Session Devices::note_session(const record::Id16& id, const std::string& session) {
  const std::lock_guard lock(mutex_);
  Callers& callers = callers_[id];
  if (session.empty() || session == callers.newest) return Session::kNewest;
  if (callers.earlier.contains(session)) return Session::kEarlier;
  if (callers.earlier.size() >= kMostCallers) callers.earlier.clear();
  if (!callers.newest.empty()) callers.earlier.insert(callers.newest);
  callers.newest = session;
  return Session::kNewest;
}

void Devices::note_copy(const record::Id16& id, const Copy& copy) {
  const std::lock_guard lock(mutex_);
  auto& copies = callers_[id].copies;
  if (copies.size() < kMostCallers || copies.contains(copy.mark)) copies[copy.mark] = copy;
}

std::vector<Copy> Devices::copies(const record::Id16& id) const {
  const std::lock_guard lock(mutex_);
  std::vector<Copy> out;
  if (const auto it = callers_.find(id); it != callers_.end()) {
    for (const auto& [mark, copy] : it->second.copies) out.push_back(copy);
  }
  return out;
}

}  // namespace fairlead::intake
