// 8: every head a device says it had seen, and every earlier head of the bundle, is a beginning of
// the last head's tree.
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
  for (const Item& item : c.items) {
    if (item.header.seen_size == 0) continue;
    if (item.header.ledger_id != own) {
      verdicts.add(8, Mark::kNote,
                   name_of(item) +
                       " names a head of an earlier generation, which "
                       "is not checked here");
      continue;
    }
    if (item.header.seen_size > item.raw->leaf) {
      verdicts.add(8, Mark::kDisproven, name_of(item) + " had seen a head that is younger than it");
    }
    out[item.header.seen_size].insert(item.header.seen_root);
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
