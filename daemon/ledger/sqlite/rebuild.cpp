#include "daemon/ledger/sqlite/rebuild.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include "daemon/base/key_file.h"
#include "daemon/ledger/head_file.h"
#include "daemon/ledger/sqlite/audit.h"
#include "daemon/ledger/sqlite/schema.h"
#include "daemon/ledger/sqlite/store.h"
#include "daemon/record/checkpoint.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::ledger {
namespace {

namespace fs = std::filesystem;

constexpr size_t kPiece = 1'000;

Status sync_path(const fs::path& path) {
  const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  const bool synced = fd >= 0 && ::fsync(fd) == 0;
  if (fd >= 0) ::close(fd);
  if (synced) return {};
  return fail(Code::kIo, path.string() + ": cannot be synced; check the disk");
}

void remove_database(const fs::path& file) {
  std::error_code ignored;
  for (const char* suffix : {"", "-wal", "-shm"}) fs::remove(file.string() + suffix, ignored);
}

class Rebuild {
 public:
  Rebuild(const OfflineLedger& ledger, Database old, Store fresh)
      : ledger_(ledger), old_(std::move(old)), fresh_(std::move(fresh)) {}

  Status run() {
    if (auto ok = start_chains(); !ok) return ok;
    if (auto ok = replay(); !ok) return ok;
    if (auto ok = in_one(&Rebuild::copy_keepsakes); !ok) return ok;
    const auto wiped = fresh_.wipe_log();
    return wiped ? Status{} : std::unexpected(wiped.error());
  }

 private:
  Status in_one(Status (Rebuild::*work)()) {
    if (auto ok = fresh_.begin(); !ok) return ok;
    if (auto ok = (this->*work)(); !ok) return ok;
    return fresh_.commit();
  }

  Status start_chains() { return in_one(&Rebuild::start_own_chains); }

  // Chains that entries will open by themselves.
  std::set<std::pair<std::string, uint32_t>> opened_by_entries() {
    std::set<std::pair<std::string, uint32_t>> opened;
    auto rows =
        Statement::prepare(old_,
                           "SELECT l.entry, b.form, b.bytes FROM leaf l JOIN body b ON b.id = l.id "
                           "WHERE l.kind IN (65, 69)");
    while (rows && rows->step().value_or(false)) {
      const auto header = record::decode_header(rows->blob(0));
      const auto body = header ? codec_.unpack(static_cast<BodyForm>(rows->integer(1)),
                                               rows->blob(2), header->body_len)
                               : std::unexpected(header.error());
      v1::EnrolBody enrol;
      v1::RestoreBody restore;
      if (!body) continue;
      if (header->kind == Kind::kEnrol && enrol.ParseFromString(*body))
        opened.emplace(enrol.device_id(), 1);
      if (header->kind == Kind::kRestore && restore.ParseFromString(*body))
        opened.emplace(restore.device_id(), restore.new_epoch());
    }
    return opened;
  }

  // All others: the owner's own, one epoch a generation, and a truck's.
  Status start_old_chains() {
    const auto opened = opened_by_entries();
    auto chains = Statement::prepare(old_, "SELECT device, genesis, public_key, epoch FROM chain");
    while (chains && chains->step().value_or(false)) {
      const auto device = chains->array<16>(0, "chain.device");
      const auto genesis = chains->array<32>(1, "chain.genesis");
      const auto key = chains->array<32>(2, "chain.public_key");
      const auto epoch = static_cast<uint32_t>(chains->count(3));
      if (!device || !genesis || !key || opened.contains({string_of(*device), epoch})) continue;
      if (auto ok = fresh_.start_chain({*device, epoch, {*key}, *genesis}); !ok) return ok;
    }
    return {};
  }

  // The old table knows more than the caller where it can still be read: older rosters' keys.
  Status start_own_chains() {
    if (auto ok = start_old_chains(); !ok) return ok;
    for (const ChainStart& own : ledger_.own) {
      if (fresh_.chains().has(own.device_id, own.epoch)) continue;
      if (auto ok = fresh_.start_chain(own); !ok) return ok;
    }
    return {};
  }

  Status replay() {
    // Only the two tables of the record are read, by row id: no index has to be whole.
    auto rows = Statement::prepare(
        old_,
        "SELECT l.id - 1, l.recv_us, l.entry, l.state, b.salt, b.form, b.bytes FROM leaf l "
        "NOT INDEXED LEFT JOIN body b ON b.id = l.id WHERE l.id > ? ORDER BY l.id LIMIT ?");
    if (!rows) return std::unexpected(rows.error());
    for (uint64_t next = 0;;) {
      if (auto ok = fresh_.begin(); !ok) return ok;
      rows->start().bind(next).bind(uint64_t{kPiece});
      size_t read = 0;
      for (;; ++read) {
        const auto more = rows->step();
        if (!more) return std::unexpected(more.error());
        if (!*more) break;
        next = rows->count(0) + 1;
        const auto stored = entry_of(*rows);
        const Status done = stored ? fresh_.replay(*stored) : std::unexpected(stored.error());
        if (!done) return fail_at(fmt::format("leaf {}: ", next - 1), done.error());
      }
      if (auto ok = fresh_.commit(); !ok) return ok;
      if (read < kPiece) return {};
    }
  }

  Result<StoredEntry> entry_of(const Statement& row) {
    StoredEntry stored;
    stored.leaf = row.count(0);
    stored.recv_us = row.integer(1);
    const auto entry = row.array<record::kEntrySize>(2, "leaf.entry");
    if (!entry) return std::unexpected(entry.error());
    stored.entry = *entry;
    const auto header = record::decode_header(*entry);
    if (!header) return fail(Code::kCorrupt, header.error().message);
    if (row.integer(3) < 0 || row.integer(3) > 2)
      return fail(Code::kCorrupt, "its state is unknown");
    stored.body_state = static_cast<BodyState>(row.integer(3));
    if (stored.body_state != BodyState::kHere) return stored;
    const auto salt = row.array<16>(4, "body.salt");
    if (!salt) return fail(Code::kCorrupt, "its body is gone");
    stored.salt = *salt;
    auto body = codec_.unpack(static_cast<BodyForm>(row.integer(5)), row.blob(6), header->body_len);
    if (!body) return std::unexpected(body.error());
    stored.body = std::move(*body);
    return stored;
  }

  // What no entry brings: files put by hand, held orders, values, how far a truck is acknowledged.
  // All of it can be asked for again, so what is gone is left out.
  Status copy_keepsakes() {
    Status done;
    each("SELECT bytes FROM file", done,
         [&](const Statement& row) { return fresh_.put_file(row.blob(0)); });
    each("SELECT name, bytes FROM named_value", done, [&](const Statement& row) {
      return fresh_.put_value(std::string(row.blob(0)), row.blob(1));
    });
    each("SELECT id, entry, salt, body FROM held_order", done, [&](const Statement& row) -> Status {
      const auto entry = row.array<record::kEntrySize>(1, "held_order.entry");
      const auto salt = row.array<16>(2, "held_order.salt");
      if (!entry || !salt) return {};
      return fresh_.put_order({row.count(0), *entry, *salt, std::string(row.blob(3))});
    });
    each("SELECT device, acked_seq FROM chain ORDER BY epoch", done,
         [&](const Statement& row) -> Status {
           const auto device = row.array<16>(0, "chain.device");
           if (device) fresh_.set_acked(*device, row.count(1));
           return {};
         });
    return done;
  }

  template <typename Take>
  void each(const char* sql, Status& done, Take take) {
    auto rows = Statement::prepare(old_, sql);
    while (done && rows && rows->step().value_or(false)) done = take(*rows);
  }

  const OfflineLedger& ledger_;
  Database old_;
  Store fresh_;
  BodyCodec codec_;
};

Status build(const OfflineLedger& ledger, const fs::path& old_file, const fs::path& new_file) {
  auto old = Database::open(old_file, Access::kWriter);
  if (!old) return std::unexpected(old.error());
  // A log left beside the new database would be played into it.
  if (const int result = sqlite3_wal_checkpoint_v2(old->handle(), nullptr,
                                                   SQLITE_CHECKPOINT_TRUNCATE, nullptr, nullptr);
      result != SQLITE_OK) {
    return old->error("copying the write-ahead log");
  }
  auto fresh = Database::open(new_file, Access::kWriter);
  if (!fresh) return std::unexpected(fresh.error());
  if (auto ok = make_schema(*fresh); !ok) return ok;
  const Id16 id = ledger.log ? record::ledger_id_of(ledger.log->name) : Id16{};
  auto store = Store::open(std::move(*fresh), id, ledger.log.has_value());
  if (!store) return std::unexpected(store.error());
  return Rebuild(ledger, std::move(*old), std::move(*store)).run();
}

AuditScope scope_of(const OfflineLedger& ledger, std::vector<std::string>& problems) {
  AuditScope scope;
  scope.tree = ledger.log.has_value();
  if (!ledger.log) return scope;
  auto head = load_head(ledger.head_file, *ledger.log);
  if (head) {
    scope.head = std::move(*head);
  } else {
    problems.push_back(head.error().message);
  }
  return scope;
}

}  // namespace

Status rebuild_tables(const OfflineLedger& ledger) {
  const fs::path old_file = ledger.folder / "ledger.db", new_file = ledger.folder / "ledger.db.new";
  remove_database(new_file);
  if (auto ok = build(ledger, old_file, new_file); !ok) {
    remove_database(new_file);
    return ok;
  }
  if (auto ok = sync_path(new_file); !ok) return ok;
  std::error_code error;
  fs::remove(old_file.string() + "-shm", error);
  fs::remove(old_file.string() + "-wal", error);
  if (auto ok = sync_path(ledger.folder); !ok) return ok;
  fs::rename(new_file, old_file, error);
  if (error) return fail(Code::kIo, old_file.string() + ": cannot be replaced: " + error.message());
  return sync_path(ledger.folder);
}

Result<OfflineReport> audit_offline(const OfflineLedger& ledger, const AuditOptions& options) {
  std::error_code error;
  if (!fs::exists(ledger.folder / "ledger.db", error)) {
    return fail(Code::kNotFound,
                (ledger.folder / "ledger.db").string() + ": is not there; name a data folder");
  }
  auto lock = FolderLock::take(ledger.folder);
  if (!lock) return std::unexpected(lock.error());
  OfflineReport out;
  const auto read = [&]() -> Status {
    std::vector<std::string> problems;
    const AuditScope scope = scope_of(ledger, problems);
    auto keeper = Database::open(ledger.folder / "ledger.db", Access::kWriter);
    if (!keeper) return std::unexpected(keeper.error());
    sqlite3_db_config(keeper->handle(), SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
    if (auto made = make_schema(*keeper); !made) return made;
    auto report = audit_files(ledger.folder, scope, options);
    if (!report) return std::unexpected(report.error());
    out.report = std::move(*report);
    out.report.problems.insert(out.report.problems.begin(), problems.begin(), problems.end());
    return {};
  };
  if (auto ok = read(); !ok) return std::unexpected(ok.error());
  if (out.report.derived == 0) return out;
  if (auto built = rebuild_tables(ledger); !built) {
    out.not_rebuilt = built.error().message;
    return out;
  }
  out.rebuilt = true;
  if (auto ok = read(); !ok) return std::unexpected(ok.error());
  return out;
}

}  // namespace fairlead::ledger
