// Checking proofs: the loops of RFC 9162 2.1.3.2 and 2.1.4.2, names as there.
#include <bit>

#include "daemon/record/merkle.h"

namespace fairlead::record {

bool verify_inclusion(uint64_t index, uint64_t size, const Hash& leaf_hash,
                      std::span<const Hash> proof, const Hash& root) {
  if (index >= size || proof.size() > kMaxProofHashes) return false;
  uint64_t fn = index, sn = size - 1;
  Hash r = leaf_hash;
  for (const Hash& p : proof) {
    if (sn == 0) return false;
    if ((fn & 1) != 0 || fn == sn) {
      r = merkle_node_hash(p, r);
      while ((fn & 1) == 0 && fn != 0) {
        fn >>= 1;
        sn >>= 1;
      }
    } else {
      r = merkle_node_hash(r, p);
    }
    fn >>= 1;
    sn >>= 1;
  }
  return sn == 0 && r == root;
}

bool verify_consistency(uint64_t from, const Hash& from_root, uint64_t to, const Hash& to_root,
                        std::span<const Hash> proof) {
  if (from == 0 || from > to || proof.size() > kMaxProofHashes) return false;
  if (from == to) return proof.empty() && from_root == to_root;
  if (proof.empty()) return false;
  // A whole subtree is not in the proof: the verifier already holds it as the old root.
  const bool whole = std::has_single_bit(from);
  Hash fr = whole ? from_root : proof.front();
  Hash sr = fr;
  if (!whole) proof = proof.subspan(1);
  uint64_t fn = from - 1, sn = to - 1;
  while ((fn & 1) != 0) {
    fn >>= 1;
    sn >>= 1;
  }
  for (const Hash& c : proof) {
    if (sn == 0) return false;
    if ((fn & 1) != 0 || fn == sn) {
      fr = merkle_node_hash(c, fr);
      sr = merkle_node_hash(c, sr);
      while ((fn & 1) == 0 && fn != 0) {
        fn >>= 1;
        sn >>= 1;
      }
    } else {
      sr = merkle_node_hash(sr, c);
    }
    fn >>= 1;
    sn >>= 1;
  }
  return sn == 0 && fr == from_root && sr == to_root;
}

Result<std::vector<Hash>> proof_of_bytes(std::span<const std::string> hashes) {
  if (hashes.size() > kMaxProofHashes) {
    return fail(Code::kBadInput, "proof: has " + std::to_string(hashes.size()) +
                                     " hashes, more than any tree needs (63)");
  }
  std::vector<Hash> out;
  out.reserve(hashes.size());
  for (const std::string& bytes : hashes) {
    auto hash = array_of<32>(bytes, "proof hash " + std::to_string(out.size() + 1));
    if (!hash) return std::unexpected(hash.error());
    out.push_back(*hash);
  }
  return out;
}

}  // namespace fairlead::record
