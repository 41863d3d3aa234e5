// A whole tree in memory, for tests: leaves in, every complete node kept as a store would.
#pragma once

#include <gtest/gtest.h>

#include <map>
#include <string_view>
#include <vector>

#include "daemon/record/merkle.h"

namespace fairlead {

class MemoryTree {
 public:
  void add_leaf_hash(const Hash& hash) {
    leaves_.push_back(hash);
    for (const auto& node : edge_.append(hash)) nodes_[{node.level, node.index}] = node.hash;
  }
  void add(std::string_view leaf_data) { add_leaf_hash(record::merkle_leaf_hash(leaf_data)); }

  [[nodiscard]] record::NodeAt nodes() const {
    return [this](unsigned level, uint64_t index) -> Result<Hash> {
      const auto found = nodes_.find({level, index});
      if (found == nodes_.end()) return fail(Code::kNotFound, "no such node");
      return found->second;
    };
  }
  [[nodiscard]] std::vector<Hash> inclusion(uint64_t index, uint64_t size) const {
    auto proof = record::inclusion_proof(index, size, nodes());
    EXPECT_TRUE(proof.has_value()) << (proof ? "" : proof.error().message);
    return proof.value_or(std::vector<Hash>{});
  }
  [[nodiscard]] std::vector<Hash> consistency(uint64_t from, uint64_t to) const {
    auto proof = record::consistency_proof(from, to, nodes());
    EXPECT_TRUE(proof.has_value()) << (proof ? "" : proof.error().message);
    return proof.value_or(std::vector<Hash>{});
  }
  [[nodiscard]] Hash root(uint64_t size) const {
    auto root = record::root_at(size, nodes());
    EXPECT_TRUE(root.has_value());
    return root.value_or(Hash{});
  }
  [[nodiscard]] const record::TreeEdge& edge() const { return edge_; }
  [[nodiscard]] const std::vector<Hash>& leaves() const { return leaves_; }

 private:
  record::TreeEdge edge_;
  std::vector<Hash> leaves_;
  std::map<std::pair<unsigned, uint64_t>, Hash> nodes_;
};

}  // namespace fairlead
