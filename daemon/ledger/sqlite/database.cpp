#include "daemon/ledger/sqlite/database.h"

#include <fmt/format.h>

namespace fairlead::ledger {
namespace {

constexpr int kBusyMs = 10'000;

std::unexpected<Error> sqlite_error(sqlite3* handle, int result, std::string_view what) {
  const char* words = handle != nullptr ? sqlite3_errmsg(handle) : sqlite3_errstr(result);
  const Code code = code_of_sqlite(result);
  const char* remedy = code == Code::kUnavailable ? "free some disk space"
                       : code == Code::kCorrupt   ? "restore the ledger from a good copy"
                                                  : "check the disk and the folder's permissions";
  return fail(code, fmt::format("ledger: {} failed: {} ({}); {}", what, words, result, remedy));
}

}  // namespace

Code code_of_sqlite(int result) {
  switch (result & 0xff) {
    case SQLITE_FULL:
    case SQLITE_BUSY:
      return Code::kUnavailable;
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
      return Code::kCorrupt;
    default:
      return Code::kIo;
  }
}

Result<Database> Database::open(const std::filesystem::path& file, Access access) {
  const bool writes = access == Access::kWriter;
  const int flags = (writes ? SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE : SQLITE_OPEN_READONLY) |
                    SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE;
  sqlite3* raw = nullptr;
  const int opened = sqlite3_open_v2(file.c_str(), &raw, flags, nullptr);
  Database database(raw);
  if (opened != SQLITE_OK) return sqlite_error(raw, opened, "opening " + file.string());
  sqlite3_busy_timeout(raw, kBusyMs);
  // Nothing in the file may make SQLite run anything.
  sqlite3_db_config(raw, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
  sqlite3_db_config(raw, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
  sqlite3_db_config(raw, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, nullptr);
  if (!writes) sqlite3_db_config(raw, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
  const char* settings = writes ? "PRAGMA page_size=8192; PRAGMA journal_mode=WAL; "
                                  "PRAGMA synchronous=FULL; PRAGMA secure_delete=ON; "
                                  "PRAGMA cell_size_check=ON; PRAGMA foreign_keys=OFF; "
                                  "PRAGMA temp_store=MEMORY; PRAGMA cache_size=-16384;"
                                : "PRAGMA cell_size_check=ON; PRAGMA query_only=ON; "
                                  "PRAGMA cache_size=-4096;";
  if (const auto set = database.run(settings); !set) return std::unexpected(set.error());
  return database;
}

Status Database::run(const char* sql) const {
  const int result = sqlite3_exec(handle(), sql, nullptr, nullptr, nullptr);
  if (result == SQLITE_OK) return {};
  return sqlite_error(handle(), result, std::string_view(sql).substr(0, 40));
}

void Database::end_reads() const {
  for (sqlite3_stmt* s = nullptr; (s = sqlite3_next_stmt(handle(), s)) != nullptr;) {
    if (sqlite3_stmt_busy(s) != 0) sqlite3_reset(s);
  }
}

std::unexpected<Error> Database::error(std::string_view what) const {
  return sqlite_error(handle(), sqlite3_extended_errcode(handle()), what);
}

Result<Statement> Statement::prepare(const Database& database, std::string_view sql) {
  sqlite3_stmt* raw = nullptr;
  const int result = sqlite3_prepare_v3(database.handle(), sql.data(), static_cast<int>(sql.size()),
                                        SQLITE_PREPARE_PERSISTENT, &raw, nullptr);
  if (result != SQLITE_OK) {
    return sqlite_error(database.handle(), result, fmt::format("preparing '{}'", sql));
  }
  return Statement(raw);
}

Statement& Statement::start() {
  sqlite3_reset(statement_.get());
  next_ = 1;
  bind_result_ = SQLITE_OK;
  return *this;
}

Statement& Statement::bind(int64_t value) {
  const int result = sqlite3_bind_int64(statement_.get(), next_++, value);
  if (result != SQLITE_OK) bind_result_ = result;
  return *this;
}

Statement& Statement::bind_null() {
  const int result = sqlite3_bind_null(statement_.get(), next_++);
  if (result != SQLITE_OK) bind_result_ = result;
  return *this;
}

Statement& Statement::bind_blob(std::string_view bytes) {
  // A null pointer would bind NULL instead of an empty blob.
  const void* data = bytes.data() != nullptr ? bytes.data() : "";
  const int result =
      sqlite3_bind_blob64(statement_.get(), next_++, data, bytes.size(), SQLITE_STATIC);
  if (result != SQLITE_OK) bind_result_ = result;
  return *this;
}

Result<bool> Statement::step() {
  sqlite3* handle = sqlite3_db_handle(statement_.get());
  if (bind_result_ != SQLITE_OK) return sqlite_error(handle, bind_result_, "binding");
  const int result = sqlite3_step(statement_.get());
  if (result == SQLITE_ROW) return true;
  if (result == SQLITE_DONE) {
    sqlite3_reset(statement_.get());
    return false;
  }
  auto error = sqlite_error(handle, result, sqlite3_sql(statement_.get()));
  sqlite3_reset(statement_.get());
  return error;
}

Status Statement::run() {
  for (;;) {
    const auto row = step();
    if (!row) return std::unexpected(row.error());
    if (!*row) return {};
  }
}

int64_t Statement::integer(int column) const {
  return sqlite3_column_int64(statement_.get(), column);
}

bool Statement::is_null(int column) const {
  return sqlite3_column_type(statement_.get(), column) == SQLITE_NULL;
}

std::string_view Statement::blob(int column) const {
  const auto* data = static_cast<const char*>(sqlite3_column_blob(statement_.get(), column));
  const int size = sqlite3_column_bytes(statement_.get(), column);
  return data == nullptr ? std::string_view() : std::string_view(data, static_cast<size_t>(size));
}

}  // namespace fairlead::ledger
