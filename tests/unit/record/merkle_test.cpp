// The tree against RFC 6962, the worked example of RFC 9162 2.1.5, and naive recursion. Published
// answers of others are in merkle_vectors_test.cpp.
#include "daemon/record/merkle.h"

#include <gtest/gtest.h>

#include <cstdlib>

#include "tests/unit/record/merkle_naive.h"
#include "tests/unit/record/merkle_tree.h"

namespace fairlead::record {
namespace {

// Well-known 8 leaves and roots for sizes 1..8 of the Certificate Transparency reference
// implementation (cpp/merkletree/merkle_tree_test.cc, kInputs and kSHA256Roots), RFC 6962 2.1.
const std::string_view kInputs[8] = {
    "",
    std::string_view("\x00", 1),
    "\x10",
    "\x20\x21",
    "\x30\x31",
    "\x40\x41\x42\x43",
    "\x50\x51\x52\x53\x54\x55\x56\x57",
    "\x60\x61\x62\x63\x64\x65\x66\x67\x68\x69\x6a\x6b\x6c\x6d\x6e\x6f"};
const char* const kRoots[8] = {"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
                               "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
                               "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
                               "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
                               "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
                               "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
                               "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
                               "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328"};

MemoryTree counted_tree(size_t size) {
  MemoryTree tree;
  for (size_t i = 0; i < size; ++i) tree.add("leaf " + std::to_string(i));
  return tree;
}

TEST(Merkle, WellKnownRoots) {
  EXPECT_EQ(hex_of(merkle_empty_root()),
            "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  EXPECT_EQ(TreeEdge().root(), merkle_empty_root());
  MemoryTree tree;
  for (size_t i = 0; i < 8; ++i) {
    tree.add(kInputs[i]);
    EXPECT_EQ(hex_of(tree.edge().root()), kRoots[i]) << i + 1;
  }
}

// RFC 9162 2.1.5: a tree of seven leaves d0..d6 with the nodes a..l as drawn there.
TEST(Merkle, WorkedExampleOfRfc9162) {
  const MemoryTree tree = counted_tree(7);
  const auto& d = tree.leaves();
  const Hash &a = d[0], &b = d[1], &c = d[2], &dd = d[3], &e = d[4], &f = d[5], &j = d[6];
  const Hash g = merkle_node_hash(a, b), h = merkle_node_hash(c, dd), i = merkle_node_hash(e, f);
  const Hash k = merkle_node_hash(g, h), l = merkle_node_hash(i, j);
  const Hash hash = merkle_node_hash(k, l);
  using Proof = std::vector<Hash>;
  EXPECT_EQ(tree.root(7), hash);
  EXPECT_EQ(tree.inclusion(0, 7), (Proof{b, h, l}));
  EXPECT_EQ(tree.inclusion(3, 7), (Proof{c, g, l}));
  EXPECT_EQ(tree.inclusion(4, 7), (Proof{f, j, k}));
  EXPECT_EQ(tree.inclusion(6, 7), (Proof{i, k}));
  EXPECT_EQ(tree.consistency(3, 7), (Proof{c, dd, g, l}));
  EXPECT_EQ(tree.consistency(4, 7), (Proof{l}));
  EXPECT_EQ(tree.consistency(6, 7), (Proof{i, j, k}));
}

/// Sizes to go through: 128, or 512 with FAIRLEAD_LONG=1.
size_t all_pairs_limit() { return std::getenv("FAIRLEAD_LONG") != nullptr ? 512 : 128; }

TEST(Merkle, AllInclusionProofsEqualTheDefinitionAndVerify) {
  const size_t limit = all_pairs_limit();
  const MemoryTree tree = counted_tree(limit);
  for (size_t n = 1; n <= limit; ++n) {
    const naive::Leaves d(tree.leaves().data(), n);
    const Hash root = naive::mth(d);
    ASSERT_EQ(tree.root(n), root);
    for (size_t m = 0; m < n; ++m) {
      const auto proof = tree.inclusion(m, n);
      ASSERT_EQ(proof, naive::path(m, d)) << m << " of " << n;
      ASSERT_TRUE(verify_inclusion(m, n, d[m], proof, root));
      ASSERT_FALSE(verify_inclusion(m + 1, n, d[m], proof, root) && n > 1);
      ASSERT_FALSE(verify_inclusion(m, n, root, proof, d[m]) && n > 1);
    }
  }
}

TEST(Merkle, AllConsistencyProofsEqualTheDefinitionAndVerify) {
  const size_t limit = all_pairs_limit();
  const MemoryTree tree = counted_tree(limit);
  for (size_t n = 1; n <= limit; ++n) {
    const naive::Leaves d(tree.leaves().data(), n);
    for (size_t m = 1; m <= n; ++m) {
      const auto proof = tree.consistency(m, n);
      ASSERT_EQ(proof, naive::proof(m, d)) << m << " to " << n;
      ASSERT_TRUE(verify_consistency(m, tree.root(m), n, tree.root(n), proof));
      ASSERT_FALSE(verify_consistency(m, tree.root(n), n, tree.root(m), proof) && m != n);
    }
  }
}

TEST(Merkle, AlteredProofsAreRefused) {
  const MemoryTree tree = counted_tree(25);
  for (uint64_t m = 0; m < 25; ++m) {
    auto proof = tree.inclusion(m, 25);
    for (auto& hash : proof) {
      hash[7] ^= 1;
      EXPECT_FALSE(verify_inclusion(m, 25, tree.leaves()[m], proof, tree.root(25)));
      hash[7] ^= 1;
    }
    proof.push_back(Hash{});
    EXPECT_FALSE(verify_inclusion(m, 25, tree.leaves()[m], proof, tree.root(25)));
    proof.resize(proof.size() - 2);
    EXPECT_FALSE(verify_inclusion(m, 25, tree.leaves()[m], proof, tree.root(25)));
  }
  for (uint64_t m = 1; m < 25; ++m) {
    auto proof = tree.consistency(m, 25);
    for (auto& hash : proof) {
      hash[31] ^= 0x80;
      EXPECT_FALSE(verify_consistency(m, tree.root(m), 25, tree.root(25), proof)) << m;
      hash[31] ^= 0x80;
    }
    proof.push_back(Hash{});
    EXPECT_FALSE(verify_consistency(m, tree.root(m), 25, tree.root(25), proof));
    proof.resize(proof.size() - 2);
    EXPECT_FALSE(verify_consistency(m, tree.root(m), 25, tree.root(25), proof));
  }
}

TEST(Merkle, OutOfRangeIsRefused) {
  const MemoryTree tree = counted_tree(4);
  EXPECT_FALSE(inclusion_proof(4, 4, tree.nodes()).has_value());
  EXPECT_FALSE(consistency_proof(0, 4, tree.nodes()).has_value());
  EXPECT_FALSE(consistency_proof(5, 4, tree.nodes()).has_value());
  EXPECT_FALSE(verify_inclusion(0, 0, Hash{}, {}, merkle_empty_root()));
  EXPECT_FALSE(verify_consistency(0, merkle_empty_root(), 4, tree.root(4), {}));
  // A missing node ends the proof with the store's own error.
  const auto missing = inclusion_proof(0, 5, tree.nodes());
  ASSERT_FALSE(missing.has_value());
  EXPECT_EQ(missing.error().code, Code::kNotFound);
  // Hash lengths and counts of outside proofs.
  const std::vector<std::string> short_hash{std::string(31, 'x')};
  EXPECT_FALSE(proof_of_bytes(short_hash).has_value());
  EXPECT_FALSE(proof_of_bytes(std::vector<std::string>(64, std::string(32, 'x'))).has_value());
}

TEST(Merkle, AStoredEdgeGoesOn) {
  MemoryTree tree = counted_tree(13);
  auto edge = TreeEdge::from(13, tree.edge().hashes());
  ASSERT_TRUE(edge.has_value());
  tree.add("next");
  edge->append(merkle_leaf_hash("next"));
  EXPECT_EQ(edge->root(), tree.edge().root());
  EXPECT_FALSE(TreeEdge::from(12, edge->hashes()).has_value());
}

}  // namespace
}  // namespace fairlead::record
