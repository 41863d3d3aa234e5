// The Merkle tree of RFC 6962 2.1 / RFC 9162 2.1 over SHA-256: hashes, a growing tree, proofs.
//
// A "node" (level, index) is the hash over the whole aligned span of leaves
// [index << level, (index + 1) << level). Only such complete nodes are ever stored or asked for.
// Threads: pure functions; a TreeEdge belongs to one thread at a time.
#pragma once

#include <cstdint>
#include <functional>
#include <span>
#include <string_view>
#include <vector>

#include "daemon/base/crypto.h"
#include "daemon/base/result.h"

namespace fairlead::record {

/// A proof in a tree of at most 2^63 leaves has at most 63 hashes.
inline constexpr size_t kMaxProofHashes = 63;

[[nodiscard]] Hash merkle_leaf_hash(std::string_view leaf_data);
[[nodiscard]] Hash merkle_node_hash(const Hash& left, const Hash& right);
/// SHA-256 of nothing.
[[nodiscard]] Hash merkle_empty_root();

struct TreeNode {
  unsigned level = 0;
  uint64_t index = 0;
  Hash hash{};
  bool operator==(const TreeNode&) const = default;
};

/// The right edge of a tree: all that appending needs. One hash a set bit of the size, the biggest
/// subtree first.
class TreeEdge {
 public:
  TreeEdge() = default;
  /// Takes up a stored edge. Errors: kCorrupt when the number of hashes does not fit the size.
  [[nodiscard]] static Result<TreeEdge> from(uint64_t size, std::vector<Hash> hashes);

  /// Adds a leaf. Returns the nodes this completes, lowest first: the leaf itself (level 0), then
  /// each parent whose span is now whole. A store that keeps them can serve every proof.
  std::vector<TreeNode> append(const Hash& leaf_hash);
  /// The same where nobody asks for the nodes, or where they are added to `completed`.
  void grow(const Hash& leaf_hash, std::vector<TreeNode>* completed = nullptr);

  [[nodiscard]] uint64_t size() const { return size_; }
  [[nodiscard]] Hash root() const;
  [[nodiscard]] const std::vector<Hash>& hashes() const { return hashes_; }

 private:
  uint64_t size_ = 0;
  std::vector<Hash> hashes_;
};

/// Gives the hash of a complete node; an error ends the proof with that error.
using NodeAt = std::function<Result<Hash>(unsigned level, uint64_t index)>;

/// Root of the first `size` leaves. Asks for at most 64 nodes.
[[nodiscard]] Result<Hash> root_at(uint64_t size, const NodeAt& node_at);
/// PATH(index, D[size]). Errors: kBadInput when index >= size.
[[nodiscard]] Result<std::vector<Hash>> inclusion_proof(uint64_t index, uint64_t size,
                                                        const NodeAt& node_at);
/// PROOF(from, D[to]). Errors: kBadInput unless 0 < from <= to.
[[nodiscard]] Result<std::vector<Hash>> consistency_proof(uint64_t from, uint64_t to,
                                                          const NodeAt& node_at);

/// RFC 9162 2.1.3.2. False on any misfit; never reads past the proof.
[[nodiscard]] bool verify_inclusion(uint64_t index, uint64_t size, const Hash& leaf_hash,
                                    std::span<const Hash> proof, const Hash& root);
/// RFC 9162 2.1.4.2. Equal sizes need an empty proof and equal roots; `from` = 0 proves nothing and
/// is refused.
[[nodiscard]] bool verify_consistency(uint64_t from, const Hash& from_root, uint64_t to,
                                      const Hash& to_root, std::span<const Hash> proof);

/// Hashes that came from outside as byte strings. Errors: kBadInput for more than 63 of them or a
/// length other than 32, before anything is hashed.
[[nodiscard]] Result<std::vector<Hash>> proof_of_bytes(std::span<const std::string> hashes);

}  // namespace fairlead::record
