#include "daemon/ledger/sqlite/audit_leaves.h"

#include <fmt/format.h>

#include "daemon/ledger/names.h"
#include "daemon/record/leaf.h"

namespace fairlead::ledger {
namespace {

constexpr size_t kMostProblems = 100;

// Runs a statement to its end, calling `each` for every row.
template <typename Each>
Status for_rows(Statement& rows, Each each) {
  for (;;) {
    const auto more = rows.step();
    if (!more) return std::unexpected(more.error());
    if (!*more) return {};
    if (const Status done = each(rows); !done) return done;
  }
}

}  // namespace

void LeafWalk::problem(uint64_t leaf, std::string_view what) {
  if (report_.problems.size() < kMostProblems) {
    report_.problems.push_back(fmt::format("leaf {}{}: {}", leaf, where_, what));
  }
}

void LeafWalk::derived(uint64_t leaf, std::string_view what) {
  problem(leaf, what);
  ++report_.derived;
}

Status LeafWalk::begin() {
  next_leaf_ = scope_.from_leaf;
  Status done = load_chains();
  if (done) done = load_keys();
  if (done && scope_.from_leaf > 0) done = load_tips_before(scope_.from_leaf);
  if (done && scope_.tree) done = load_edge_before(scope_.from_leaf);
  if (!done) return done;
  auto node = Statement::prepare(database_, "SELECT hash FROM node WHERE id = ?");
  auto attached = Statement::prepare(database_, "SELECT sha256 FROM attached WHERE leaf = ?");
  if (!node || !attached) return database_.error("preparing the audit");
  node_ = std::move(*node);
  attached_ = std::move(*attached);
  return {};
}

Status LeafWalk::refresh() {
  if (const auto done = load_chains(); !done) return done;
  return load_keys();
}

Result<bool> LeafWalk::advance(size_t most) {
  auto rows = Statement::prepare(
      database_,
      "SELECT l.id - 1, l.recv_us, l.entry, l.state, b.salt, b.form, b.bytes, l.chain, l.seq, "
      "l.kind, j.job FROM leaf l LEFT JOIN body b ON b.id = l.id LEFT JOIN job j ON j.id = l.job "
      "WHERE l.id > ? ORDER BY l.id LIMIT ?");
  if (!rows) return std::unexpected(rows.error());
  rows->start().bind(next_leaf_).bind(uint64_t{most});
  size_t read = 0;
  const Status done = for_rows(*rows, [&](const Statement& row) {
    ++read;
    return check_leaf(row);
  });
  where_.clear();
  if (!done) return std::unexpected(done.error());
  if (read == most) return true;
  check_end();
  return false;
}

Status LeafWalk::load_chains() {
  auto rows = Statement::prepare(database_,
                                 "SELECT id, device, epoch, genesis, hash, seq, leaf FROM chain");
  if (!rows) return std::unexpected(rows.error());
  return for_rows(*rows, [&](const Statement& row) -> Status {
    const auto device = row.array<16>(1, "chain.device");
    const auto genesis = row.array<32>(3, "chain.genesis");
    const auto tip = row.array<32>(4, "chain.hash");
    if (!device || !genesis || !tip)
      return fail(Code::kCorrupt, "ledger: a chain's row is damaged");
    const auto [at, fresh] = chains_.try_emplace(row.integer(0));
    AuditChain& chain = at->second;
    if (fresh) {
      chain.device_id = *device;
      chain.epoch = static_cast<uint32_t>(row.count(2));
      chain.tip = *genesis;
    }
    chain.row_tip = *tip;
    chain.row_seq = row.count(5);
    chain.row_leaf = row.count(6);
    return {};
  });
}

Status LeafWalk::load_keys() {
  auto rows = Statement::prepare(database_, "SELECT chain, from_leaf, public_key FROM chain_key");
  if (!rows) return std::unexpected(rows.error());
  return for_rows(*rows, [&](const Statement& row) -> Status {
    const auto chain = chains_.find(row.integer(0));
    const auto key = row.array<32>(2, "chain_key.public_key");
    if (chain == chains_.end() || !key)
      return fail(Code::kCorrupt, "ledger: a key's row is damaged");
    chain->second.keys[row.count(1)] = {*key};
    return {};
  });
}

Status LeafWalk::load_tips_before(uint64_t from_leaf) {
  auto last =
      Statement::prepare(database_,
                         "SELECT seq, entry, id - 1 FROM leaf WHERE chain = ? AND seq <= ? AND "
                         "id <= ? ORDER BY seq DESC LIMIT 1");
  if (!last) return std::unexpected(last.error());
  for (auto& [id, chain] : chains_) {
    last->start().bind(id).bind(chain.row_seq).bind(from_leaf);
    const auto row = last->step();
    if (!row) return std::unexpected(row.error());
    if (!*row) continue;
    const auto entry = last->array<record::kEntrySize>(1, "leaf.entry");
    if (!entry) return std::unexpected(entry.error());
    chain.seq = last->count(0);
    chain.tip = record::chain_of(*entry);
    chain.last_leaf = last->count(2);
  }
  return {};
}

Status LeafWalk::load_edge_before(uint64_t from_leaf) {
  auto reader = TreeReader::on(database_);
  if (!reader) return std::unexpected(reader.error());
  std::vector<Hash> hashes;
  for (unsigned level = 64; level-- > 0;) {
    if ((from_leaf >> level & 1U) == 0) continue;
    const auto hash = reader->node(level, (from_leaf >> level) - 1);
    if (!hash) return std::unexpected(hash.error());
    hashes.push_back(*hash);
  }
  auto edge = record::TreeEdge::from(from_leaf, std::move(hashes));
  if (!edge) return std::unexpected(edge.error());
  edge_ = std::move(*edge);
  return {};
}

Status LeafWalk::check_leaf(const Statement& row) {
  const uint64_t leaf = row.count(0);
  where_.clear();
  if (leaf != next_leaf_) problem(next_leaf_, "is missing");
  next_leaf_ = leaf + 1;
  ++report_.leaves;
  const auto entry = row.array<record::kEntrySize>(2, "leaf.entry");
  if (!entry) {
    problem(leaf, "its entry has another length");
    return {};
  }
  const auto header = record::decode_header(*entry);
  if (!header) {
    problem(leaf, header.error().message);
    return {};
  }
  where_ = fmt::format(" ({} {} of device {})", record::kind_name(header->kind), header->seq,
                       hex_of(header->device_id).substr(0, 8));
  const auto chain = chains_.find(row.integer(7));
  if (chain == chains_.end()) {
    derived(leaf, "names no chain");
  } else {
    check_place(leaf, *entry, *header, chain->second);
  }
  const bool job_fits =
      is_zero(header->job_id) ? row.is_null(10) : row.blob(10) == view_of(header->job_id);
  const bool kind_fits = row.count(9) == static_cast<uint8_t>(header->kind);
  if (row.count(8) != header->seq || !kind_fits || !job_fits)
    derived(leaf, "its columns differ from its entry");
  if (const Status done = check_body(leaf, *header, row); !done) return done;
  return scope_.tree ? check_tree(leaf, *entry, row.integer(1)) : Status{};
}

void LeafWalk::check_place(uint64_t leaf, const EntryBytes& entry, const EntryHeader& header,
                           AuditChain& chain) {
  if (header.device_id != chain.device_id || header.epoch != chain.epoch) {
    problem(leaf, "is filed under another device");
  }
  if (header.seq != chain.seq + 1) problem(leaf, "its chain has a hole before it");
  if (header.prev != chain.tip) problem(leaf, "does not follow the entry before it");
  chain.seq = header.seq;
  chain.tip = record::chain_of(entry);
  chain.last_leaf = leaf;
  const auto after = chain.keys.upper_bound(leaf);
  if (after == chain.keys.begin() || !record::verify_entry(entry, std::prev(after)->second)) {
    problem(leaf, "its signature does not verify");
  }
}

Status LeafWalk::check_body(uint64_t leaf, const EntryHeader& header, const Statement& row) {
  const bool here = row.count(3) == static_cast<uint8_t>(BodyState::kHere);
  if (row.count(3) > 2) problem(leaf, "its state is unknown");
  if (here == row.is_null(4))
    problem(leaf, here ? "its body is gone" : "has a body it should not have");
  if (!here || row.is_null(4)) return {};
  ++report_.bodies;
  const auto salt = row.array<16>(4, "body.salt");
  const auto form = static_cast<BodyForm>(row.count(5));
  const auto body = codec_.unpack(form, row.blob(6), header.body_len);
  if (!salt || row.count(5) > 1 || !body || !record::body_matches(header, *salt, *body)) {
    problem(leaf, "its body is not the one signed for");
    return {};
  }
  return check_attached(leaf, *body);
}

Status LeafWalk::check_attached(uint64_t leaf, std::string_view body) {
  std::vector<Hash> named = attachments_in(body);
  attached_->start().bind(leaf);
  bool strange = false;
  const Status done = for_rows(*attached_, [&](const Statement& row) -> Status {
    strange = strange || std::erase_if(named, [&](const Hash& hash) {
                           return row.blob(0) == view_of(hash);
                         }) == 0;
    return {};
  });
  if (done && (strange || !named.empty()))
    derived(leaf, "the table of attachments differs from its body");
  return done;
}

Status LeafWalk::check_tree(uint64_t leaf, const EntryBytes& entry, int64_t recv_us) {
  for (const auto& node : edge_.append(record::leaf_hash_of(entry, recv_us))) {
    if (node.level < kLowestStoredLevel) continue;
    const auto row = node_->start().bind(node_row(node.level, node.index)).step();
    if (!row) return std::unexpected(row.error());
    if (!*row || node_->blob(0) != view_of(node.hash)) {
      derived(leaf,
              fmt::format("tree node {} at level {} is not its hash", node.index, node.level));
    }
  }
  if (scope_.head && scope_.head->size == edge_.size() && scope_.head->root != edge_.root()) {
    problem(leaf, "the tree is not the one whose head was published");
  }
  return {};
}

void LeafWalk::check_end() {
  for (const auto& [id, chain] : chains_) {
    const bool same =
        chain.seq == chain.row_seq &&
        (chain.seq == 0 || (chain.tip == chain.row_tip && chain.last_leaf == chain.row_leaf));
    if (!same) derived(chain.row_leaf, "a chain's end is not where its row says");
  }
  if (!scope_.tree) return;
  report_.root = edge_.root();
  const auto stored = load_edge(database_);
  if (!stored || stored->size() != edge_.size() || stored->hashes() != edge_.hashes()) {
    derived(next_leaf_, "the tree's edge does not fit its leaves");
  }
  if (scope_.head && scope_.head->size > edge_.size()) {
    problem(next_leaf_,
            fmt::format("a head of {} leaves was published: the database is an older copy",
                        scope_.head->size));
  }
}

}  // namespace fairlead::ledger
