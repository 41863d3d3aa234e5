// The Merkle tree as rows: the right edge, and every complete node from level 3 up. The three
// levels below are hashed from at most eight leaves when asked for, which saves 80 bytes a leaf.
//
// Threads: as the connection.
#pragma once

#include "daemon/ledger/sqlite/database.h"
#include "daemon/record/merkle.h"

namespace fairlead::ledger {

constexpr unsigned kLowestStoredLevel = 3;

[[nodiscard]] Result<record::TreeEdge> load_edge(const Database& database);
[[nodiscard]] Status save_edge(const Database& database, const record::TreeEdge& edge);

/// Reads nodes through one connection.
class TreeReader {
 public:
  [[nodiscard]] static Result<TreeReader> on(const Database& database);
  /// Errors: kNotFound for a node that is not complete yet, kCorrupt, kIo.
  [[nodiscard]] Result<Hash> node(unsigned level, uint64_t index);

 private:
  TreeReader(Statement nodes, Statement leaves)
      : nodes_(std::move(nodes)), leaves_(std::move(leaves)) {}
  [[nodiscard]] Result<Hash> hashed_from_leaves(unsigned level, uint64_t index);
  Statement nodes_, leaves_;
};

/// Key of a node's row.
[[nodiscard]] constexpr uint64_t node_row(unsigned level, uint64_t index) {
  return (uint64_t{level} << 56) | index;
}

}  // namespace fairlead::ledger
