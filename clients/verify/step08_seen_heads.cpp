// 8: every head a device says it had seen, and every earlier head of the bundle, is a beginning of
// the last head's tree.
#include <algorithm>
#include <map>
#include <set>

#include "clients/verify/steps.h"
#include "daemon/record/merkle.h"

namespace fairlead::verifier {
namespace {

/// Each size with the roots claimed for it.
std::map<uint64_t, std::set<Hash>> claimed_roots(const Case& c, Verdicts& verdicts) {
  std::map<uint64_t, std::set<Hash>> out;
  const record::Id16 own = record::ledger_id_of(c.policy.origin());
  std::map<std::string, uint64_t> lost;  // Largest head seen of what is gone, by origin.
  for (const Item& item : c.items) {
    if (item.header.seen_size == 0) continue;
    if (item.header.ledger_id != own) {
      const auto ancestor =
          std::find_if(c.ancestors.begin(), c.ancestors.end(),
                       [&](const Ancestor& a) { return a.ledger_id == item.header.ledger_id; });
      if (ancestor == c.ancestors.end()) {
        verdicts.add(8, Mark::kDisproven,
                     name_of(item) + " names a log that is neither this one nor one it continues");
        continue;
      }
      if (item.header.seen_size > ancestor->kept_size) {
        auto& most = lost[ancestor->origin];
        most = std::max(most, item.header.seen_size);
        continue;
      }
    }
    if (item.header.seen_size > item.raw->leaf) {
      verdicts.add(8, Mark::kDisproven, name_of(item) + " had seen a head that is younger than it");
    }
    out[item.header.seen_size].insert(item.header.seen_root);
  }
  for (const Ancestor& ancestor : c.ancestors) {
    const uint64_t most = std::max(lost[ancestor.origin], ancestor.last_size);
    if (most <= ancestor.kept_size) continue;
    verdicts.add(8, Mark::kNote,
                 "of " + ancestor.origin + " a head of " + std::to_string(most) +
                     " entries was known, of which this log keeps the first " +
                     std::to_string(ancestor.kept_size) +
                     "; what the trucks did not send again of the other " +
                     std::to_string(most - ancestor.kept_size) + " is missing" +
                     (most > ancestor.last_size ? ", and the owner named a smaller head" : ""));
  }
  for (const Head& head : c.heads) out[head.checkpoint.size].insert(head.checkpoint.root);
  return out;
}

}  // namespace

void check_seen_heads(const Case& c, Verdicts& verdicts) {
  const auto roots = claimed_roots(c, verdicts);
  std::map<uint64_t, const std::vector<Hash>*> proofs;
  for (const auto& proof : c.bundle.consistency) {
    proofs[proof.size] = &proof.proof;
    if (!roots.contains(proof.size) || proof.size >= c.head().size) {
      verdicts.add(8, Mark::kDisproven,
                   "a proof for size " + std::to_string(proof.size) + " belongs to no head");
    }
  }
  static const std::vector<Hash> kNoProof;
  for (const auto& [size, claims] : roots) {
    if (size == 0) continue;
    const auto found = proofs.find(size);
    const auto& proof = found == proofs.end() ? kNoProof : *found->second;
    for (const Hash& root : claims) {
      if (record::verify_consistency(size, root, c.head().size, c.head().root, proof)) continue;
      verdicts.add(8, Mark::kDisproven,
                   "the head over " + std::to_string(size) +
                       " leaves is not shown to be a beginning of the last head");
    }
  }
  if (!verdicts.failed(8)) {
    verdicts.add(8, Mark::kGood, std::to_string(roots.size()) + " heads belong to one history");
  }
}

}  // namespace fairlead::verifier
