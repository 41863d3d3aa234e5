#include "daemon/ledger/names.h"
#include "daemon/ledger/sqlite/store_statements.h"
#include "daemon/record/leaf.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::ledger {

Result<uint64_t> Store::insert(Chain& chain, const New& entry, int64_t now_us) {
  const uint64_t leaf = next_leaf_;
  const bool has_job = !is_zero(entry.header.job_id);
  const auto job = has_job ? job_row(entry.header.job_id) : Result<int64_t>(0);
  if (!job) return std::unexpected(job.error());
  auto& row = statements_->insert_leaf.start();
  row.bind(leaf + 1).bind(now_us).bind(chain.row).bind(entry.header.seq);
  row.bind(uint64_t{static_cast<uint8_t>(entry.header.kind)});
  has_job ? row.bind(*job) : row.bind_null();
  row.bind(uint64_t{static_cast<uint8_t>(entry.state)}).bind_blob(entry.entry);
  if (const auto put = row.run(); !put) return std::unexpected(put.error());
  if (entry.state == BodyState::kHere) {
    const auto put = insert_body(leaf, entry.salt, entry.body);
    if (!put) return std::unexpected(put.error());
  }
  if (const auto grown = grow_tree(entry.entry, now_us); !grown)
    return std::unexpected(grown.error());
  ++next_leaf_;
  chain.mark.seq = entry.header.seq;
  chain.mark.chain = record::chain_of(entry.entry);
  chain.mark.leaf = leaf;
  if (entry.state == BodyState::kFollows) chain.waiting.insert(entry.header.seq);
  if (entry.header.kind == Kind::kDrop && entry.state == BodyState::kHere) {
    if (const auto dropped = follow_drop(chain, entry.body); !dropped)
      return std::unexpected(dropped.error());
  }
  chain.settle_bodies();
  chain.changed = true;
  if (has_job) {
    if (const auto kept = follow_job(*job, entry, leaf); !kept)
      return std::unexpected(kept.error());
  }
  return leaf;
}

Status Store::insert_body(uint64_t leaf, const Salt& salt, std::string_view body) {
  for (const Hash& hash : attachments_in(body)) {
    auto& row = statements_->insert_attached.start().bind_blob(hash).bind(leaf);
    if (const auto put = row.run(); !put) return put;
  }
  const BodyForm form = codec_.pack(body, packed_);
  return statements_->insert_body.start()
      .bind(leaf + 1)
      .bind_blob(salt)
      .bind(uint64_t{static_cast<uint8_t>(form)})
      .bind_blob(packed_)
      .run();
}

Status Store::grow_tree(const EntryBytes& entry, int64_t recv_us) {
  if (!tree_) return {};
  for (const auto& node : edge_.append(record::leaf_hash_of(entry, recv_us))) {
    if (node.level < kLowestStoredLevel) continue;
    auto& row = statements_->insert_node.start().bind(node_row(node.level, node.index));
    if (const auto put = row.bind_blob(node.hash).run(); !put) return put;
  }
  return {};
}

Result<int64_t> Store::job_row(const Id16& job_id) {
  auto& find = statements_->find_job.start().bind_blob(job_id);
  const auto there = find.step();
  if (!there) return std::unexpected(there.error());
  if (*there) {
    const int64_t row = find.integer(0);
    find.start();
    return row;
  }
  const auto added = statements_->insert_job.start().bind_blob(job_id).run();
  if (!added) return std::unexpected(added.error());
  return sqlite3_last_insert_rowid(database_.handle());
}

Status Store::follow_job(int64_t job, const New& entry, uint64_t leaf) {
  const Id16& device = entry.header.device_id;
  const std::string_view body = entry.state == BodyState::kHere ? entry.body : std::string_view();
  if (entry.header.kind != Kind::kRecovered) {
    return follow_kind(job, entry.header.kind, body, device, leaf);
  }
  // To its job a recovered entry is what it was before.
  v1::RecoveredBody recovered;
  if (!recovered.ParseFromArray(body.data(), static_cast<int>(body.size()))) return {};
  const auto inner = record::decode_header(recovered.entry());
  if (!inner || inner->job_id != entry.header.job_id) return {};
  return follow_kind(job, inner->kind, recovered.body(), device, leaf);
}

Status Store::follow_kind(int64_t job, Kind kind, std::string_view bytes, const Id16& device,
                          uint64_t leaf) {
  switch (kind) {
    case Kind::kJobOpen:
      return statements_->open_job.start().bind_blob(device).bind(leaf).bind(job).run();
    case Kind::kJobClose:
      return statements_->close_job.start().bind(leaf).bind(job).bind_blob(device).run();
    case Kind::kObservations:
      break;  // May reopen.
    default:
      return {};
  }
  auto& state = statements_->job_state.start().bind(job);
  const auto row = state.step();
  if (!row) return std::unexpected(row.error());
  const bool closed = *row && !state.is_null(0);
  state.start();
  if (!closed || bytes.empty()) return {};
  v1::ObservationsBody body;
  if (!body.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()))) return {};
  for (const auto& line : body.observation()) {
    if (!line.has_reopened()) continue;
    return statements_->reopen_job.start().bind(job).bind_blob(device).run();
  }
  return {};
}

Status Store::apply(const OwnEffect& effect, const EntryBytes& entry, uint64_t leaf,
                    int64_t recv_us) {
  if (const auto* opens = std::get_if<OpensChain>(&effect)) {
    const Hash genesis = record::genesis_of(record::leaf_hash_of(entry, recv_us));
    const ChainStart start{opens->device_id, opens->epoch, opens->key, genesis};
    return chains_.start(database_, start, leaf + 1);
  }
  if (const auto* changes = std::get_if<ChangesKey>(&effect)) {
    return chains_.rekey(database_, changes->device_id, changes->key, leaf + 1);
  }
  if (const auto* brings = std::get_if<BringsFile>(&effect)) return put_file(brings->bytes);
  return {};
}

}  // namespace fairlead::ledger
