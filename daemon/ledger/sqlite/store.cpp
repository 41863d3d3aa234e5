#include "daemon/ledger/sqlite/store.h"

#include "daemon/ledger/sqlite/store_statements.h"

namespace fairlead::ledger {
namespace {

constexpr int kWalPages = 1'000;  // 8 MB of log, then it is copied into the database.

int note_wal_pages(void* out, sqlite3*, const char*, int pages) {
  *static_cast<int*>(out) = pages;
  return SQLITE_OK;
}

}  // namespace

Store::Store(Database database, const Id16& ledger_id, bool tree)
    : database_(std::move(database)), ledger_id_(ledger_id), tree_(tree) {}

Result<Store> Store::open(Database database, const Id16& ledger_id, bool tree) {
  Store store(std::move(database), ledger_id, tree);
  // Installing a hook of our own also ends SQLite's automatic checkpoints, whose errors nobody
  // sees.
  sqlite3_wal_hook(store.database_.handle(), note_wal_pages, store.wal_pages_.get());
  auto statements = Statements::prepare(store.database_);
  if (!statements) return std::unexpected(statements.error());
  store.statements_ = std::move(*statements);
  if (const auto loaded = store.load(); !loaded) return std::unexpected(loaded.error());
  return store;
}

Status Store::load() {
  auto chains = Chains::load(database_);
  if (!chains) return std::unexpected(chains.error());
  chains_ = std::move(*chains);
  auto last = Statement::prepare(database_, "SELECT coalesce(max(id), 0) FROM leaf");
  if (!last) return std::unexpected(last.error());
  const auto row = last->step();
  if (!row) return std::unexpected(row.error());
  next_leaf_ = last->count(0);
  if (!tree_) return {};
  auto edge = load_edge(database_);
  if (!edge) return std::unexpected(edge.error());
  edge_ = std::move(*edge);
  if (edge_.size() == next_leaf_) return {};
  return fail(Code::kCorrupt,
              "ledger: tree and leaves differ in number; restore it from a good copy");
}

Status Store::begin() { return database_.run("BEGIN IMMEDIATE"); }

Status Store::commit() {
  Status done = chains_.save(database_);
  if (done && tree_) done = save_edge(database_, edge_);
  if (done) done = database_.run("COMMIT");
  if (!done) rollback();
  return done;
}

void Store::rollback() {
  if (sqlite3_get_autocommit(database_.handle()) == 0) (void)database_.run("ROLLBACK");
  // If even reading fails, what is in memory is of no use: no append is accepted without a chain.
  if (!load()) chains_ = Chains();
}

Status Store::checkpoint_if_grown() {
  if (*wal_pages_ < kWalPages) return {};
  *wal_pages_ = 0;
  const int result = sqlite3_wal_checkpoint_v2(database_.handle(), nullptr,
                                               SQLITE_CHECKPOINT_PASSIVE, nullptr, nullptr);
  if (result == SQLITE_OK || result == SQLITE_BUSY) return {};
  return database_.error("copying the write-ahead log");
}

// Moving rows between pages leaves copies of them in the gaps, which no setting of SQLite wipes; a
// fresh file has none. In the named values, so that a crash in between does not forget it.
Status Store::ask_for_rewrite() {
  return database_.run(
      "INSERT OR REPLACE INTO named_value(name, sha256, bytes) VALUES('rewrite_due', "
      "x'e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855', x'')");
}

Status Store::rewrite_if_asked() {
  bool asked = false;
  const auto note = [](void* into, int, char**, char**) {
    *static_cast<bool*>(into) = true;
    return 0;
  };
  if (sqlite3_exec(database_.handle(), "SELECT 1 FROM named_value WHERE name = 'rewrite_due'", note,
                   &asked, nullptr) != SQLITE_OK) {
    return database_.error("looking whether the file is to be written afresh");
  }
  if (!asked) return {};
  if (auto ok = database_.run("VACUUM"); !ok) return ok;
  return database_.run("DELETE FROM named_value WHERE name = 'rewrite_due'");
}

Result<bool> Store::wipe_log() {
  constexpr int kShortMs = 200, kLongMs = 10'000;  // Readers are short; a long one is waited out.
  database_.end_reads();
  if (auto ok = rewrite_if_asked(); !ok) return std::unexpected(ok.error());
  sqlite3_busy_timeout(database_.handle(), kShortMs);
  const int result = sqlite3_wal_checkpoint_v2(database_.handle(), nullptr,
                                               SQLITE_CHECKPOINT_TRUNCATE, nullptr, nullptr);
  sqlite3_busy_timeout(database_.handle(), kLongMs);
  if (result == SQLITE_OK) return true;
  if ((result & 0xff) == SQLITE_BUSY || (result & 0xff) == SQLITE_LOCKED) return false;
  return database_.error("wiping the write-ahead log");
}

void Store::leave_files_alone() {
  sqlite3_db_config(database_.handle(), SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
}

Status Store::start_chain(const ChainStart& start) {
  return chains_.start(database_, start, next_leaf_);
}

Status Store::change_key(const Id16& device_id, const PublicKey& key) {
  return chains_.rekey(database_, device_id, key, next_leaf_);
}

void Store::set_acked(const Id16& device_id, uint64_t seq) {
  Chain* chain = chains_.latest(device_id);
  if (chain == nullptr || seq <= chain->mark.acked_seq || seq > chain->mark.seq) return;
  chain->mark.acked_seq = seq;
  chain->changed = true;
}

Status Store::put_file(std::string_view bytes) {
  const Hash hash = sha256(bytes);
  return statements_->insert_file.start().bind_blob(hash).bind_blob(bytes).run();
}

Status Store::put_order(const HeldOrder& order) {
  return statements_->insert_order.start()
      .bind(order.leaf)
      .bind_blob(order.entry)
      .bind_blob(order.salt)
      .bind_blob(order.body)
      .run();
}

Status Store::put_value(std::string_view name, std::string_view bytes) {
  if (const auto gone = statements_->delete_value.start().bind_blob(name).run(); !gone) return gone;
  const Hash hash = sha256(bytes);
  return statements_->insert_value.start().bind_blob(name).bind_blob(hash).bind_blob(bytes).run();
}

}  // namespace fairlead::ledger
