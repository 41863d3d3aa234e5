#include "daemon/ledger/sqlite/chains.h"

#include <limits>

namespace fairlead::ledger {
namespace {

Result<Chain> chain_of_row(const Statement& row) {
  Chain chain;
  chain.row = row.integer(0);
  const auto device = row.array<16>(1, "chain.device");
  const auto genesis = row.array<32>(3, "chain.genesis");
  const auto key = row.array<32>(4, "chain.public_key");
  const auto hash = row.array<32>(6, "chain.hash");
  if (!device || !genesis || !key || !hash) {
    return fail(Code::kCorrupt, "ledger: a chain's row is damaged; restore it from a good copy");
  }
  chain.genesis = *genesis;
  chain.mark.device_id = *device;
  chain.mark.epoch = static_cast<uint32_t>(row.count(2));
  chain.mark.key.bytes = *key;
  chain.mark.seq = row.count(5);
  chain.mark.chain = *hash;
  chain.mark.leaf = row.count(7);
  chain.mark.acked_seq = row.count(8);
  return chain;
}

}  // namespace

void Chain::settle_bodies() { mark.body_seq = waiting.empty() ? mark.seq : *waiting.begin() - 1; }

Result<Chains> Chains::load(const Database& database) {
  Chains chains;
  auto rows = Statement::prepare(database,
                                 "SELECT id, device, epoch, genesis, public_key, seq, hash, leaf, "
                                 "acked_seq FROM chain");
  auto waiting = Statement::prepare(database, "SELECT seq FROM leaf WHERE chain = ? AND state = 0");
  if (!rows || !waiting) return database.error("reading chains");
  for (;;) {
    const auto more = rows->step();
    if (!more) return std::unexpected(more.error());
    if (!*more) return chains;
    auto chain = chain_of_row(*rows);
    if (!chain) return std::unexpected(chain.error());
    waiting->start().bind(chain->row);
    for (;;) {
      const auto seq = waiting->step();
      if (!seq) return std::unexpected(seq.error());
      if (!*seq) break;
      chain->waiting.insert(waiting->count(0));
    }
    chain->settle_bodies();
    chains.chains_.emplace(std::pair(chain->mark.device_id, chain->mark.epoch), *chain);
  }
}

Chain* Chains::find(const Id16& device_id, uint32_t epoch) {
  const auto found = chains_.find({device_id, epoch});
  return found == chains_.end() ? nullptr : &found->second;
}

Chain* Chains::latest(const Id16& device_id) {
  auto after = chains_.upper_bound({device_id, std::numeric_limits<uint32_t>::max()});
  if (after == chains_.begin()) return nullptr;
  --after;
  return after->first.first == device_id ? &after->second : nullptr;
}

Status Chains::start(Database& database, const ChainStart& start, uint64_t from_leaf) {
  if (const Chain* there = find(start.device_id, start.epoch); there != nullptr) {
    if (there->genesis == start.genesis && there->mark.key == start.key) return {};
    return fail(Code::kConflict,
                "chain: this device and epoch began with another key or root; open a "
                "new epoch");
  }
  auto insert =
      Statement::prepare(database,
                         "INSERT INTO chain(device, epoch, genesis, public_key, seq, hash, "
                         "leaf, acked_seq) VALUES(?,?,?,?,0,?,0,0)");
  if (!insert) return std::unexpected(insert.error());
  insert->start().bind_blob(start.device_id).bind(uint64_t{start.epoch}).bind_blob(start.genesis);
  insert->bind_blob(start.key.bytes).bind_blob(start.genesis);
  if (const auto done = insert->run(); !done) return done;
  Chain chain;
  chain.row = sqlite3_last_insert_rowid(database.handle());
  chain.genesis = start.genesis;
  chain.mark.device_id = start.device_id;
  chain.mark.epoch = start.epoch;
  chain.mark.key = start.key;
  chain.mark.chain = start.genesis;
  const int64_t row = chain.row;
  chains_.emplace(std::pair(start.device_id, start.epoch), std::move(chain));
  return note_key(database, row, from_leaf, start.key);
}

Status Chains::rekey(Database& database, const Id16& device_id, const PublicKey& key,
                     uint64_t from_leaf) {
  Chain* chain = latest(device_id);
  if (chain == nullptr) return fail(Code::kNotFound, "chain: no such device; enrol it first");
  chain->mark.key = key;
  chain->changed = true;
  return note_key(database, chain->row, from_leaf, key);
}

Status Chains::note_key(Database& database, int64_t chain, uint64_t from_leaf,
                        const PublicKey& key) {
  auto insert = Statement::prepare(
      database, "INSERT INTO chain_key(chain, from_leaf, public_key) VALUES(?,?,?)");
  if (!insert) return std::unexpected(insert.error());
  return insert->start().bind(chain).bind(from_leaf).bind_blob(key.bytes).run();
}

Status Chains::save(Database& database) {
  auto update = Statement::prepare(database,
                                   "UPDATE chain SET public_key = ?, seq = ?, hash = ?, leaf = ?, "
                                   "acked_seq = ? WHERE id = ?");
  if (!update) return std::unexpected(update.error());
  for (auto& [id, chain] : chains_) {
    if (!chain.changed) continue;
    const Watermark& mark = chain.mark;
    update->start().bind_blob(mark.key.bytes).bind(mark.seq).bind_blob(mark.chain).bind(mark.leaf);
    if (const auto done = update->bind(mark.acked_seq).bind(chain.row).run(); !done) return done;
    chain.changed = false;
  }
  return {};
}

std::vector<Chain> Chains::current() const {
  std::vector<Chain> latest;
  for (const auto& [id, chain] : chains_) {
    if (!latest.empty() && latest.back().mark.device_id == id.first) latest.pop_back();
    latest.push_back(chain);
  }
  return latest;
}

}  // namespace fairlead::ledger
