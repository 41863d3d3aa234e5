#include "daemon/ledger/sqlite/schema.h"

#include <fmt/format.h>

namespace fairlead::ledger {
namespace {

constexpr int64_t kApplication = 0x464C4531;  // "FLE1".
constexpr int64_t kVersion = 1;

// Row ids of leaf and body are leaf index + 1. state: BodyState. form: 0 plain, 1 zstd.
// node.id = level << 56 | index; levels below 3 are hashed from the leaves when asked for.
// chain_key: the key of a chain from a leaf on. job.close_leaf: of the latest closing, NULL = open.
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

Result<int64_t> number(Database& database, const char* sql) {
  auto statement = Statement::prepare(database, sql);
  if (!statement) return std::unexpected(statement.error());
  const auto row = statement->step();
  if (!row) return std::unexpected(row.error());
  return statement->integer(0);
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
        fmt::format("BEGIN IMMEDIATE;{}PRAGMA application_id={};PRAGMA user_version={};COMMIT;",
                    kTables, kApplication, kVersion);
    return writer.run(all.c_str());
  }
  if (*application == kApplication && *version == kVersion) return {};
  return fail(
      Code::kBadInput,
      fmt::format("ledger.db: is not a ledger this version reads (application {:#x}, version "
                  "{}); point the daemon at its own data folder",
                  *application, *version));
}

}  // namespace fairlead::ledger
