// 7: each body is the one its entry committed to; an erased one is named by an ERASE entry, a lost
// one, after a generation of the log has ended, by its own device.
#include <algorithm>
#include <map>
#include <set>

#include "clients/verify/steps.h"

namespace fairlead::verifier {
namespace {

using record::BodyForm;
using record::Kind;

/// Leaf index of an erased body to the leaf of the ERASE entry that names it.
std::map<uint64_t, uint64_t> erased_leaves(const Case& c) {
  std::map<uint64_t, uint64_t> out;
  for (const Item& item : c.items) {
    if (item.header.kind != Kind::kErase || !item.signed_well) continue;
    const auto body = body_as<v1::EraseBody>(item);
    if (!body) continue;
    for (uint64_t leaf : body->leaf()) out.emplace(leaf, item.raw->leaf);
  }
  return out;
}

/// Places of the job's device whose bodies it says nobody holds: its base had lost them and wanted
/// them again when it had freed them itself.
std::set<record::ChainPlace> lost_places(const Case& c) {
  std::set<record::ChainPlace> out;
  for (const Item& item : c.items) {
    if (!c.job || item.header.kind != Kind::kGap || item.header.device_id != c.job->device_id)
      continue;
    const auto body = item.signed_well ? body_as<v1::GapBody>(item) : std::nullopt;
    if (!body) continue;
    for (int i = 0; i < std::min(body->lost_body_epoch_size(), body->lost_body_seq_size()); ++i)
      out.insert({body->lost_body_epoch(i), body->lost_body_seq(i)});
  }
  return out;
}

/// Only what came in again after a seam can have been lost with the base's disk.
bool is_lost(const Case& c, const Item& item, const std::set<record::ChainPlace>& lost) {
  return c.job && item.header.device_id == c.job->device_id &&
         lost.contains(record::place_of(item.header)) &&
         std::ranges::any_of(c.ancestors,
                             [&](const Ancestor& seam) { return seam.leaf < item.raw->leaf; });
}

}  // namespace

void check_bodies(Case& c, Verdicts& verdicts) {
  const auto erased = erased_leaves(c);
  const auto lost = lost_places(c);
  size_t bodies = 0, bodies_lost = 0;
  for (Item& item : c.items) {
    const bool named = erased.contains(item.raw->leaf);
    const bool gone = item.raw->form == BodyForm::kErased && !named && is_lost(c, item, lost);
    bodies_lost += gone ? 1 : 0;
    if (item.raw->form == BodyForm::kErased && !named && !gone) {
      verdicts.add(7, Mark::kDisproven,
                   name_of(item) + " is called erased, but no ERASE entry names it");
    }
    if (item.raw->form == BodyForm::kBare && named) {
      verdicts.add(7, Mark::kDisproven, name_of(item) + " was erased, but is not called so");
    }
    if (!item.has_body()) continue;
    item.body_bound = record::body_matches(item.header, item.raw->salt, item.raw->body);
    if (!item.body_bound) {
      verdicts.add(7, Mark::kDisproven,
                   name_of(item) + " has another body than the one signed for");
    }
    ++bodies;
  }
  if (bodies_lost > 0) {
    verdicts.add(7, Mark::kNote,
                 std::to_string(bodies_lost) +
                     " bodies are lost: the base lost its disk, and its truck had freed them");
  }
  if (!verdicts.failed(7)) {
    verdicts.add(7, Mark::kGood, std::to_string(bodies) + " bodies are the ones signed for");
  }
}

}  // namespace fairlead::verifier
