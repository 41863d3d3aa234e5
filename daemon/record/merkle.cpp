#include "daemon/record/merkle.h"

#include <bit>

namespace fairlead::record {
namespace {

constexpr std::string_view kLeafPrefix{"\0", 1};
constexpr std::string_view kNodePrefix{"\1", 1};

}  // namespace

Hash merkle_leaf_hash(std::string_view leaf_data) { return sha256({kLeafPrefix, leaf_data}); }

Hash merkle_node_hash(const Hash& left, const Hash& right) {
  return sha256({kNodePrefix, view_of(left), view_of(right)});
}

Hash merkle_empty_root() { return sha256(std::string_view{}); }

Result<TreeEdge> TreeEdge::from(uint64_t size, std::vector<Hash> hashes) {
  if (hashes.size() != static_cast<size_t>(std::popcount(size))) {
    return fail(Code::kCorrupt, "tree edge: " + std::to_string(hashes.size()) +
                                    " hashes do not fit a tree of " + std::to_string(size) +
                                    " leaves; rebuild it from the leaves");
  }
  TreeEdge edge;
  edge.size_ = size;
  edge.hashes_ = std::move(hashes);
  return edge;
}

void TreeEdge::grow(const Hash& leaf_hash, std::vector<TreeNode>* completed) {
  Hash hash = leaf_hash;
  unsigned level = 0;
  if (completed != nullptr) completed->push_back({level, size_, hash});
  // Each trailing one bit of the size is a whole left sibling of what has just been completed.
  for (uint64_t rest = size_; (rest & 1) != 0; rest >>= 1) {
    hash = merkle_node_hash(hashes_.back(), hash);
    hashes_.pop_back();
    if (completed != nullptr) completed->push_back({++level, rest >> 1, hash});
  }
  hashes_.push_back(hash);
  ++size_;
}

std::vector<TreeNode> TreeEdge::append(const Hash& leaf_hash) {
  std::vector<TreeNode> completed;
  grow(leaf_hash, &completed);
  return completed;
}

Hash TreeEdge::root() const {
  if (hashes_.empty()) return merkle_empty_root();
  Hash root = hashes_.back();
  for (size_t i = hashes_.size() - 1; i-- > 0;) root = merkle_node_hash(hashes_[i], root);
  return root;
}

}  // namespace fairlead::record
