#include "daemon/ledger/sqlite/schema.h"

#include <fmt/format.h>

#include "daemon/ledger/body_codec.h"
#include "daemon/ledger/names.h"
#include "daemon/record/entry.h"

namespace fairlead::ledger {
namespace {

constexpr int64_t kApplication = 0x464C4531;  // "FLE1".
constexpr int64_t kVersion = 2;               // 1 had no table attached.

// Row ids of leaf and body are leaf index + 1. state: BodyState. form: 0 plain, 1 zstd.
// node.id = level << 56 | index; levels below 3 are hashed from the leaves when asked for.
// attached: which leaf's body names which attachment. chain_key: the key of a chain from a leaf on.
// job.close_leaf: of the latest closing, NULL = open.
constexpr const char* kTables = R"(
CREATE TABLE leaf(id INTEGER PRIMARY KEY, recv_us INTEGER NOT NULL, chain INTEGER NOT NULL,
  seq INTEGER NOT NULL, kind INTEGER NOT NULL, job INTEGER, state INTEGER NOT NULL,
  entry BLOB NOT NULL) STRICT;
CREATE UNIQUE INDEX leaf_by_seq ON leaf(chain, seq);
CREATE INDEX leaf_by_job ON leaf(job) WHERE job IS NOT NULL;
CREATE INDEX leaf_by_kind ON leaf(kind) WHERE kind > 2;
CREATE INDEX leaf_waiting ON leaf(chain, seq) WHERE state = 0;
CREATE TABLE body(id INTEGER PRIMARY KEY, salt BLOB NOT NULL, form INTEGER NOT NULL,
  bytes BLOB NOT NULL) STRICT;
CREATE TABLE node(id INTEGER PRIMARY KEY, hash BLOB NOT NULL) STRICT;
CREATE TABLE edge(id INTEGER PRIMARY KEY CHECK (id = 1), size INTEGER NOT NULL,
  hashes BLOB NOT NULL) STRICT;
CREATE TABLE chain(id INTEGER PRIMARY KEY, device BLOB NOT NULL, epoch INTEGER NOT NULL,
  genesis BLOB NOT NULL, public_key BLOB NOT NULL, seq INTEGER NOT NULL, hash BLOB NOT NULL,
  leaf INTEGER NOT NULL, acked_seq INTEGER NOT NULL) STRICT;
CREATE UNIQUE INDEX chain_by_device ON chain(device, epoch);
CREATE TABLE chain_key(id INTEGER PRIMARY KEY, chain INTEGER NOT NULL, from_leaf INTEGER NOT NULL,
  public_key BLOB NOT NULL) STRICT;
CREATE TABLE job(id INTEGER PRIMARY KEY, job BLOB NOT NULL, device BLOB, open_leaf INTEGER,
  close_leaf INTEGER) STRICT;
CREATE UNIQUE INDEX job_by_id ON job(job);
CREATE INDEX job_by_open ON job(open_leaf) WHERE open_leaf IS NOT NULL;
CREATE INDEX job_by_device ON job(device) WHERE open_leaf IS NOT NULL AND close_leaf IS NULL;
CREATE TABLE file(id INTEGER PRIMARY KEY, sha256 BLOB NOT NULL, bytes BLOB NOT NULL) STRICT;
CREATE UNIQUE INDEX file_by_hash ON file(sha256);
CREATE TABLE held_order(id INTEGER PRIMARY KEY, entry BLOB NOT NULL, salt BLOB NOT NULL,
  body BLOB NOT NULL) STRICT;
CREATE TABLE named_value(id INTEGER PRIMARY KEY, name TEXT NOT NULL, sha256 BLOB NOT NULL,
  bytes BLOB NOT NULL) STRICT;
CREATE UNIQUE INDEX named_value_by_name ON named_value(name);
)";
constexpr const char* kAttached = R"(
CREATE TABLE attached(id INTEGER PRIMARY KEY, sha256 BLOB NOT NULL, leaf INTEGER NOT NULL) STRICT;
CREATE INDEX attached_by_hash ON attached(sha256);
CREATE INDEX attached_by_leaf ON attached(leaf);
)";

Result<int64_t> number(Database& database, const char* sql) {
  auto statement = Statement::prepare(database, sql);
  if (!statement) return std::unexpected(statement.error());
  const auto row = statement->step();
  if (!row) return std::unexpected(row.error());
  return statement->integer(0);
}

// From version 1: the table is built from the bodies.
Status add_attached(Database& writer) {
  if (const auto made = writer.run(kAttached); !made) return made;
  auto rows = Statement::prepare(
      writer, "SELECT l.id - 1, l.entry, b.form, b.bytes FROM leaf l JOIN body b ON b.id = l.id");
  auto insert = Statement::prepare(writer, "INSERT INTO attached(sha256, leaf) VALUES(?,?)");
  if (!rows || !insert) return writer.error("building the table of attachments");
  BodyCodec codec;
  for (;;) {
    const auto more = rows->step();
    if (!more) return std::unexpected(more.error());
    if (!*more) break;
    const auto header = record::decode_header(rows->blob(1));
    if (!header) return fail(Code::kCorrupt, "ledger: " + header.error().message);
    const auto body =
        codec.unpack(static_cast<BodyForm>(rows->integer(2)), rows->blob(3), header->body_len);
    if (!body) return std::unexpected(body.error());
    for (const Hash& hash : attachments_in(*body)) {
      if (const auto put = insert->start().bind_blob(hash).bind(rows->integer(0)).run(); !put)
        return put;
    }
  }
  return writer.run(fmt::format("PRAGMA user_version={}", kVersion).c_str());
}

Status upgrade(Database& writer) {
  if (const auto begun = writer.run("BEGIN IMMEDIATE"); !begun) return begun;
  Status done = add_attached(writer);
  if (done) done = writer.run("COMMIT");
  if (!done) (void)writer.run("ROLLBACK");
  return done;
}

}  // namespace

Status make_schema(Database& writer) {
  const auto application = number(writer, "PRAGMA application_id");
  if (!application) return std::unexpected(application.error());
  const auto version = number(writer, "PRAGMA user_version");
  if (!version) return std::unexpected(version.error());
  const auto tables = number(writer, "SELECT count(*) FROM sqlite_schema");
  if (!tables) return std::unexpected(tables.error());
  if (*tables == 0) {
    const std::string all =
        fmt::format("BEGIN IMMEDIATE;{}{}PRAGMA application_id={};PRAGMA user_version={};COMMIT;",
                    kTables, kAttached, kApplication, kVersion);
    return writer.run(all.c_str());
  }
  if (*application == kApplication && *version == kVersion) return {};
  if (*application == kApplication && *version == 1) return upgrade(writer);
  return fail(
      Code::kBadInput,
      fmt::format("ledger.db: is not a ledger this version reads (application {:#x}, version "
                  "{}); point the daemon at its own data folder",
                  *application, *version));
}

}  // namespace fairlead::ledger
