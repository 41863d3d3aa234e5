#include "daemon/watch/quarantine.h"

#include "fairlead/v1/record.pb.h"

namespace fairlead::watch {

Result<Quarantine> Quarantine::read(const ledger::Ledger& ledger) {
  constexpr size_t kMost = 100'000;
  const auto entries = ledger.entries_of_kind(record::Kind::kRevoke, 0, kMost);
  if (!entries) return std::unexpected(entries.error());
  Quarantine out;
  for (const ledger::StoredEntry& entry : *entries) {
    v1::RevokeBody body;
    if (!body.ParseFromString(entry.body)) continue;
    const auto id = array_of<16>(body.device_id(), "device id");
    if (!id) continue;
    const record::ChainPlace place{body.last_epoch(), body.last_seq()};
    const auto [it, fresh] = out.last_trusted_.emplace(*id, place);
    if (!fresh && place < it->second) it->second = place;
  }
  return out;
}

bool Quarantine::holds(const record::EntryHeader& header) const {
  const auto it = last_trusted_.find(header.device_id);
  return it != last_trusted_.end() && record::place_of(header) > it->second;
}

}  // namespace fairlead::watch
