#include "daemon/ledger/sqlite/open.h"

#include <fmt/format.h>

#include "daemon/ledger/body_codec.h"
#include "daemon/ledger/head_file.h"
#include "daemon/ledger/sqlite/audit.h"
#include "daemon/ledger/sqlite/schema.h"
#include "daemon/ledger/sqlite/sqlite_ledger.h"
#include "daemon/ledger/sqlite/suspicion.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::ledger {
namespace {

// Enough to cover what a crash can have left half done, little enough to read at every start.
constexpr uint64_t kTail = 1'024;

Status check(const Database& database, const AuditScope& scope) {
  const auto report = audit_snapshot(database, scope);
  if (!report) return std::unexpected(report.error());
  if (report->problems.empty()) return {};
  return fail(Code::kCorrupt, fmt::format("ledger: {} ({} problems); restore it from a good copy",
                                          report->problems.front(), report->problems.size()));
}

Status check_files(const Options& options) {
  std::vector<std::string> problems;
  const auto files = Attachments(options.folder / "attachments").audit(problems);
  if (!files) return std::unexpected(files.error());
  if (problems.empty()) return {};
  return fail(Code::kCorrupt, problems.front() + "; restore it from a good copy");
}

// The published head must be of this tree, wherever in it.
Status check_head(const Database& database, uint64_t size, const std::optional<SignedHead>& head) {
  if (!head) return {};
  if (head->size > size) {
    return fail(Code::kCorrupt,
                fmt::format("ledger: has {} leaves, but a head of {} was published: it is an older "
                            "copy; restore the newest one, or declare a new generation",
                            size, head->size));
  }
  auto tree = TreeReader::on(database);
  if (!tree) return std::unexpected(tree.error());
  const auto root = record::root_at(
      head->size, [&](unsigned level, uint64_t index) { return tree->node(level, index); });
  if (!root) return std::unexpected(root.error());
  if (*root == head->root) return {};
  return fail(Code::kCorrupt,
              "ledger: its tree is not the one whose head was published; restore it "
              "from a good copy");
}

// Attachments that an ERASE entry names and no live entry does.
Status finish_erasures(const Database& database, const Attachments& attachments) {
  auto rows =
      Statement::prepare(database,
                         "SELECT l.entry, b.form, b.bytes FROM leaf l JOIN body b ON b.id = l.id "
                         "WHERE l.kind = 74 AND l.kind > 2");
  auto named = Statement::prepare(database, "SELECT 1 FROM attached WHERE sha256 = ? LIMIT 1");
  if (!rows || !named) return database.error("reading erasures");
  BodyCodec codec;
  for (;;) {
    const auto more = rows->step();
    if (!more) return std::unexpected(more.error());
    if (!*more) return {};
    const auto header = record::decode_header(rows->blob(0));
    if (!header) return fail(Code::kCorrupt, "ledger: " + header.error().message);
    const auto bytes =
        codec.unpack(static_cast<BodyForm>(rows->integer(1)), rows->blob(2), header->body_len);
    if (!bytes) return std::unexpected(bytes.error());
    v1::EraseBody body;
    if (!body.ParseFromString(*bytes)) continue;
    for (const std::string& sha256 : body.attachment_sha256()) {
      const auto hash = array_of<32>(sha256, "attachment_sha256");
      if (!hash || !attachments.has(*hash)) continue;
      const auto there = named->start().bind_blob(*hash).step();
      if (!there) return std::unexpected(there.error());
      const bool live = *there;
      named->start();
      if (live) continue;
      if (const auto gone = attachments.remove(*hash); !gone) return gone;
    }
  }
}

Status check_at_start(const Options& options, const Database& database, uint64_t size,
                      const std::optional<SignedHead>& head) {
  const bool suspect = is_suspect(options.folder);
  AuditScope scope{options.signer.has_value(), head, 0};
  if (!suspect && size > kTail) scope.from_leaf = (size - kTail) / kTail * kTail;
  // A small ledger is read whole anyway, but without the walk over the database's own pages.
  scope.pages = suspect;
  if (const auto good = check(database, scope); !good) return good;
  if (const auto good = check_head(database, size, head); !good) return good;
  if (!suspect) return {};
  if (const auto good = check_files(options); !good) return good;
  return clear_suspect(options.folder);
}

Result<std::unique_ptr<Ledger>> open_locked(const Options& options, FolderLock lock) {
  const Attachments attachments(options.folder / "attachments");
  if (const auto made = attachments.prepare(); !made) return std::unexpected(made.error());
  std::optional<SignedHead> head;
  if (options.signer) {
    auto loaded = load_head(options.head_file, options.signer->log);
    if (!loaded) return std::unexpected(loaded.error());
    head = std::move(*loaded);
  }
  auto database = Database::open(options.folder / "ledger.db", Access::kWriter);
  if (!database) return std::unexpected(database.error());
  if (const auto made = make_schema(*database); !made) return std::unexpected(made.error());
  const Id16 ledger_id =
      options.signer ? record::ledger_id_of(options.signer->log.name) : options.ledger_id;
  auto store = Store::open(std::move(*database), ledger_id, options.signer.has_value());
  if (store) store->take_from(options.ancestors);
  if (!store) return std::unexpected(store.error());
  const auto good = check_at_start(options, store->database(), store->size(), head);
  if (!good) return std::unexpected(good.error());
  prepare_suspicion(options.folder);
  // What a crash has left of an erasure: bytes in the log, files whose entry is gone.
  if (const auto wiped = store->wipe_log(); !wiped && wiped.error().code != Code::kUnavailable)
    return std::unexpected(wiped.error());
  if (const auto gone = finish_erasures(store->database(), attachments); !gone)
    return std::unexpected(gone.error());
  return std::make_unique<SqliteLedger>(std::move(lock), options, std::move(*store),
                                        std::move(head));
}

}  // namespace

Result<std::unique_ptr<Ledger>> open_sqlite(const Options& options) {
  auto lock = FolderLock::take(options.folder);
  if (!lock) return std::unexpected(lock.error());
  auto opened = open_locked(options, std::move(*lock));
  // A write or sync that failed on the way: the next start trusts nothing.
  if (!opened && opened.error().code == Code::kIo) mark_suspect(options.folder);
  return opened;
}

}  // namespace fairlead::ledger
