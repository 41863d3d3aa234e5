#include "daemon/ledger/sqlite/tree_rows.h"

#include <fmt/format.h>

#include <vector>

#include "daemon/record/leaf.h"

namespace fairlead::ledger {

using record::TreeEdge;

Result<TreeEdge> load_edge(const Database& database) {
  auto row = Statement::prepare(database, "SELECT size, hashes FROM edge WHERE id = 1");
  if (!row) return std::unexpected(row.error());
  const auto there = row->step();
  if (!there) return std::unexpected(there.error());
  if (!*there) return TreeEdge{};
  const std::string_view bytes = row->blob(1);
  std::vector<Hash> hashes(bytes.size() / sizeof(Hash));
  if (bytes.size() % sizeof(Hash) != 0) return fail(Code::kCorrupt, "tree: its edge is damaged");
  for (size_t i = 0; i < hashes.size(); ++i) {
    std::memcpy(hashes[i].data(), bytes.data() + i * sizeof(Hash), sizeof(Hash));
  }
  return TreeEdge::from(row->count(0), std::move(hashes));
}

Status save_edge(const Database& database, const TreeEdge& edge) {
  auto row = Statement::prepare(database, "INSERT OR REPLACE INTO edge VALUES(1,?,?)");
  if (!row) return std::unexpected(row.error());
  std::string hashes;
  for (const Hash& hash : edge.hashes()) hashes.append(view_of(hash));
  return row->start().bind(edge.size()).bind_blob(hashes).run();
}

Result<TreeReader> TreeReader::on(const Database& database) {
  auto nodes = Statement::prepare(database, "SELECT hash FROM node WHERE id = ?");
  auto leaves = Statement::prepare(
      database, "SELECT entry, recv_us FROM leaf WHERE id > ? AND id <= ? ORDER BY id");
  if (!nodes || !leaves) return database.error("preparing the tree's statements");
  return TreeReader(std::move(*nodes), std::move(*leaves));
}

Result<Hash> TreeReader::node(unsigned level, uint64_t index) {
  if (level < kLowestStoredLevel) return hashed_from_leaves(level, index);
  const auto row = nodes_.start().bind(node_row(level, index)).step();
  if (!row) return std::unexpected(row.error());
  if (!*row)
    return fail(Code::kNotFound, fmt::format("tree: no node {} at level {}", index, level));
  const auto hash = nodes_.array<32>(0, "node.hash");
  nodes_.start();  // A statement left half way would hold its snapshot.
  return hash;
}

Result<Hash> TreeReader::hashed_from_leaves(unsigned level, uint64_t index) {
  const uint64_t first = index << level, count = uint64_t{1} << level;
  leaves_.start().bind(first).bind(first + count);
  std::vector<Hash> hashes;
  for (;;) {
    const auto row = leaves_.step();
    if (!row) return std::unexpected(row.error());
    if (!*row) break;
    const auto entry = leaves_.array<record::kEntrySize>(0, "leaf.entry");
    if (!entry) return std::unexpected(entry.error());
    hashes.push_back(record::leaf_hash_of(*entry, leaves_.integer(1)));
  }
  if (hashes.size() != count) {
    return fail(Code::kNotFound, fmt::format("tree: no node {} at level {}", index, level));
  }
  for (; hashes.size() > 1; hashes.resize(hashes.size() / 2)) {
    for (size_t i = 0; i < hashes.size() / 2; ++i) {
      hashes[i] = record::merkle_node_hash(hashes[2 * i], hashes[2 * i + 1]);
    }
  }
  return hashes[0];
}

}  // namespace fairlead::ledger
