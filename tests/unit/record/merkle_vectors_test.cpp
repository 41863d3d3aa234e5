// The tree against published answers; each file names its own source.
#include <gtest/gtest.h>

#include "daemon/record/merkle.h"
#include "tests/unit/record/merkle_tree.h"
#include "tests/unit/record/vectors.h"

namespace fairlead::record {
namespace {

using nlohmann::json;

TEST(MerkleVectors, NodesAndRootsOfEightLeaves) {
  const auto file = vectors::load("merkle_rfc6962_8leaf.json");
  if (!file) return;
  const json& known = file->at(0);
  MemoryTree tree;
  EXPECT_EQ(merkle_empty_root(), vectors::hash_from_hex(known["roots_by_size_0_to_8"][0]));
  for (size_t i = 0; i < 8; ++i) {
    tree.add(vectors::from_hex(known["leaf_inputs_hex"][i]));
    EXPECT_EQ(tree.edge().root(), vectors::hash_from_hex(known["roots_by_size_0_to_8"][i + 1]));
  }
  for (unsigned level = 0; level < 4; ++level) {
    const json& row = known["node_hashes_by_level"][level];
    for (size_t index = 0; index < row.size(); ++index) {
      EXPECT_EQ(tree.nodes()(level, index).value_or(Hash{}), vectors::hash_from_hex(row[index]));
    }
  }
}

TEST(MerkleVectors, ProofsOfEightLeaves) {
  const auto leaves = vectors::load("merkle_rfc6962_8leaf.json");
  const auto file = vectors::load("merkle_proofs_8leaf.json");
  if (!leaves || !file) return;
  MemoryTree tree;
  for (const auto& input : leaves->at(0)["leaf_inputs_hex"]) tree.add(vectors::from_hex(input));
  int checked = 0;
  for (const char* list : {"published_inclusion", "all_inclusion"}) {
    for (const auto& known : file->at(0)[list]) {
      EXPECT_EQ(tree.inclusion(known["index"], known["size"]),
                vectors::hashes_from_hex(known["proof"]));
      ++checked;
    }
  }
  for (const char* list : {"published_consistency", "all_consistency"}) {
    for (const auto& known : file->at(0)[list]) {
      EXPECT_EQ(tree.consistency(known["size1"], known["size2"]),
                vectors::hashes_from_hex(known["proof"]));
      ++checked;
    }
  }
  EXPECT_EQ(checked, 80);
}

/// Base64 hashes of a probe as a caller gets them; a wrong length must fail here.
Result<std::vector<Hash>> probe_hashes(const json& list) {
  std::vector<std::string> raw;
  if (!list.is_null()) {
    for (const auto& text : list) {
      auto bytes = bytes_of_base64(text.get<std::string>(), "probe");
      if (!bytes) return std::unexpected(bytes.error());
      raw.push_back(*bytes);
    }
  }
  return proof_of_bytes(raw);
}

TEST(MerkleVectors, InclusionProbes) {
  const auto file = vectors::load("merkle_probes_inclusion.jsonl");
  if (!file) return;
  int accepted = 0, refused = 0;
  for (const auto& probe : *file) {
    if (!probe.contains("leafIdx")) continue;
    const auto ends = probe_hashes(json::array({probe["root"], probe["leafHash"]}));
    const auto proof = probe_hashes(probe["proof"]);
    const bool good =
        ends && proof &&
        verify_inclusion(probe["leafIdx"].get<uint64_t>(), probe["treeSize"].get<uint64_t>(),
                         (*ends)[1], *proof, (*ends)[0]);
    EXPECT_EQ(good, !probe["wantErr"].get<bool>()) << probe["path"] << " " << probe["desc"];
    ++(good ? accepted : refused);
  }
  EXPECT_EQ(accepted, 6);
  EXPECT_EQ(refused, 92);
}

TEST(MerkleVectors, ConsistencyProbes) {
  const auto file = vectors::load("merkle_probes_consistency.jsonl");
  if (!file) return;
  int accepted = 0, refused = 0;
  for (const auto& probe : *file) {
    if (!probe.contains("size1")) continue;
    const auto roots = probe_hashes(json::array({probe["root1"], probe["root2"]}));
    const auto proof = probe_hashes(probe["proof"]);
    const bool good = roots && proof &&
                      verify_consistency(probe["size1"].get<uint64_t>(), (*roots)[0],
                                         probe["size2"].get<uint64_t>(), (*roots)[1], *proof);
    // One accepted probe has roots of 12 bytes, which its publisher only compares; a root that is
    // not 32 bytes long is refused here before anything else.
    const bool odd_roots = probe["root1"] == "ZG9uJ3QgY2FyZSAy" && !probe["wantErr"].get<bool>();
    EXPECT_EQ(good, !probe["wantErr"].get<bool>() && !odd_roots)
        << probe["path"] << " " << probe["desc"];
    ++(good ? accepted : refused);
  }
  EXPECT_EQ(accepted, 5);
  EXPECT_EQ(refused, 93);
}

std::string words_of(const std::vector<Hash>& proof) {
  std::string out;
  for (const Hash& hash : proof) out += " " + hex_of(hash);
  return out + "\n";
}

MemoryTree tree_of_bytes(size_t start, size_t end) {
  MemoryTree tree;
  for (size_t i = start; i < end; ++i) tree.add(std::string(1, static_cast<char>(i)));
  return tree;
}

// One hash over all roots and proofs of a 130-leaf tree, leaf i = the byte i.
TEST(MerkleVectors, AccumulatedRootsAndProofs) {
  const auto file = vectors::load("merkle_accumulated_130.json");
  if (!file) return;
  const json& plain = file->at(0)["computed_here_plain_rfc6962"];
  const MemoryTree tree = tree_of_bytes(0, 130);
  Sha256 roots, inclusion, consistency;
  for (size_t n = 0; n <= 130; ++n) {
    roots.update(std::to_string(n) + " " + hex_of(tree.root(n)) + "\n");
    for (size_t m = 0; m <= n; ++m) {
      const std::string start = std::to_string(m) + " " + std::to_string(n);
      if (m < n) inclusion.update(start + words_of(tree.inclusion(m, n)));
      if (m > 0) consistency.update(start + words_of(tree.consistency(m, n)));
    }
  }
  EXPECT_EQ(hex_of(roots.finish()), plain["roots"]["sha256_of_all_lines"].get<std::string>());
  EXPECT_EQ(hex_of(inclusion.finish()),
            plain["inclusion"]["sha256_of_all_lines"].get<std::string>());
  EXPECT_EQ(hex_of(consistency.finish()),
            plain["consistency"]["sha256_of_all_lines"].get<std::string>());
}

// The published accumulations over subtrees: a subtree [start, end) is a tree of its own leaves.
TEST(MerkleVectors, AccumulatedSubtrees) {
  const auto file = vectors::load("merkle_accumulated_130.json");
  if (!file) return;
  const json& published = file->at(0)["published"];
  Sha256 hashes, inclusion;
  for (size_t end = 0; end <= 130; ++end) {
    for (size_t start = 0; start <= end; ++start) {
      size_t power = 1;
      while (power < end - start) power *= 2;
      if (start != 0 && start != end && start % power != 0) continue;
      const MemoryTree tree = tree_of_bytes(start, end);
      const std::string span = "[" + std::to_string(start) + ", " + std::to_string(end) + ")";
      hashes.update(span + " " + hex_of(tree.edge().root()) + "\n");
      for (size_t index = start; index < end; ++index) {
        inclusion.update(std::to_string(index) + " " + span +
                         words_of(tree.inclusion(index - start, end - start)));
      }
    }
  }
  EXPECT_EQ(hex_of(hashes.finish()),
            published["subtree_hashes"]["sha256_of_all_lines"].get<std::string>());
  EXPECT_EQ(hex_of(inclusion.finish()),
            published["subtree_inclusion_proofs"]["sha256_of_all_lines"].get<std::string>());
}

}  // namespace
}  // namespace fairlead::record
