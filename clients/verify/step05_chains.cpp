// 5: in every chain, each link from the first to the last entry shown; the officers' chains from
// their very beginning, so that no revoked key can be hidden.
#include <algorithm>
#include <map>

#include "clients/verify/steps.h"

namespace fairlead::verifier {
namespace {

using record::Id16;
using record::Kind;
using Chains = std::map<std::pair<Id16, uint32_t>, std::vector<const Item*>>;

Chains chains_of(const Case& c) {
  Chains chains;
  for (const Item& item : c.items) {
    chains[{item.header.device_id, item.header.epoch}].push_back(&item);
  }
  for (auto& [key, chain] : chains) {
    std::stable_sort(chain.begin(), chain.end(),
                     [](const Item* a, const Item* b) { return a->header.seq < b->header.seq; });
  }
  return chains;
}

/// Each generation is an epoch of the base's own chains, rooted in the roster it began with; the
/// first one's stands in the first ROSTER entry.
std::optional<Hash> roster_of_epoch(const Case& c, uint32_t epoch) {
  if (epoch > 1 && epoch <= c.ancestors.size() + 1)
    return record::roster_fingerprint(c.ancestors[epoch - 2].roster);
  for (const Item& item : c.items) {
    if (item.header.kind != Kind::kRoster || epoch != 1) continue;
    if (const auto body = body_as<v1::RosterBody>(item))
      return record::roster_fingerprint(body->note());
  }
  return std::nullopt;
}

/// What seq 1 must name as its prev; nullopt when the bundle does not tell.
std::optional<Hash> genesis_for(const Case& c, const record::EntryHeader& header) {
  for (const auto* staff :
       {admin_roster(c, header.device_id), service_roster(c, header.device_id)}) {
    if (staff == nullptr) continue;
    // A key that came with a later roster of its generation begins there, in epoch 1.
    const bool later = staff->from_leaf > 0;
    if (c.ancestors.empty() || later) return record::genesis_of(staff->fingerprint);
    const auto roster = roster_of_epoch(c, header.epoch);
    return roster ? std::optional(record::genesis_of(*roster)) : std::nullopt;
  }
  if (header.epoch == 1) {
    const auto found = c.devices.find(header.device_id);
    if (found == c.devices.end()) return std::nullopt;
    return record::genesis_of(found->second.enrol_leaf_hash);
  }
  for (const Item& item : c.items) {
    if (item.header.kind != Kind::kRestore) continue;
    const auto body = body_as<v1::RestoreBody>(item);
    if (body && body->device_id() == view_of(header.device_id) &&
        body->new_epoch() == header.epoch) {
      return record::genesis_of(item.leaf_hash);
    }
  }
  return std::nullopt;
}

void check_chain(const Case& c, const std::vector<const Item*>& chain, Verdicts& verdicts) {
  const Item& first = *chain.front();
  if (first.header.seq == 1) {
    const auto genesis = genesis_for(c, first.header);
    if (!genesis) {
      verdicts.add(5, Mark::kUnknown, name_of(first) + " begins a chain the bundle does not root");
    } else if (*genesis != first.header.prev) {
      verdicts.add(5, Mark::kDisproven, name_of(first) + " does not begin where its chain must");
    }
  } else if (admin_roster(c, first.header.device_id) != nullptr) {
    verdicts.add(
        5, Mark::kDisproven,
        name_of(first) + " is not the officer's first entry; entries before it are missing");
  }
  for (size_t i = 1; i < chain.size(); ++i) {
    const Item &before = *chain[i - 1], &item = *chain[i];
    if (item.header.seq != before.header.seq + 1) {
      verdicts.add(5, Mark::kDisproven,
                   item.header.seq == before.header.seq
                       ? name_of(item) + " has the same number as another entry"
                       : name_of(item) + " does not follow: entries between number " +
                             std::to_string(before.header.seq) + " and " +
                             std::to_string(item.header.seq) + " of its device are missing");
    } else if (item.header.prev != record::chain_of(before.raw->entry)) {
      verdicts.add(5, Mark::kDisproven, name_of(item) + " does not link to the entry before it");
    } else if (item.raw->leaf <= before.raw->leaf) {
      verdicts.add(5, Mark::kDisproven,
                   name_of(item) + " stands in the log before its predecessor");
    }
  }
}

}  // namespace

void check_chains(const Case& c, Verdicts& verdicts) {
  const Chains chains = chains_of(c);
  for (const auto& [key, chain] : chains) check_chain(c, chain, verdicts);
  if (!verdicts.failed(5)) {
    verdicts.add(5, Mark::kGood,
                 "no link is missing in " + std::to_string(chains.size()) + " chains");
  }
}

}  // namespace fairlead::verifier
