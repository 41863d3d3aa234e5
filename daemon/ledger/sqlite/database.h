// SQLite with errors as values: a connection and its prepared statements.
//
// Threads: a Database and its Statements belong to one thread at a time.
#pragma once

#include <sqlite3.h>

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

#include "daemon/base/bytes.h"
#include "daemon/base/result.h"

namespace fairlead::ledger {

enum class Access { kWriter, kReader };

class Database {
 public:
  /// kWriter: WAL, synchronous FULL, secure_delete, cell_size_check. kReader: read-only, and like
  /// every connection but the writer it never checkpoints. Errors: kIo, kCorrupt.
  [[nodiscard]] static Result<Database> open(const std::filesystem::path& file, Access access);

  [[nodiscard]] Status run(const char* sql) const;
  [[nodiscard]] sqlite3* handle() const { return handle_.get(); }
  /// Resets every statement: one left on a row would hold its old snapshot open.
  void end_reads() const;

  /// The last error of this connection in our words.
  [[nodiscard]] std::unexpected<Error> error(std::string_view what) const;

 private:
  struct Closer {
    void operator()(sqlite3* handle) const { sqlite3_close_v2(handle); }
  };
  explicit Database(sqlite3* handle) : handle_(handle) {}
  std::unique_ptr<sqlite3, Closer> handle_;
};

/// kUnavailable for a full disk (nothing is broken, try later), kCorrupt for damaged pages, else
/// kIo.
[[nodiscard]] Code code_of_sqlite(int result);

/// A prepared statement. Typical use: bind..., while (*step()) read columns, reset happens by
/// itself at the next bind after a finished run.
class Statement {
 public:
  [[nodiscard]] static Result<Statement> prepare(const Database& database, std::string_view sql);

  /// Starts over with the first parameter.
  Statement& start();
  Statement& bind(int64_t value);
  Statement& bind(uint64_t value) { return bind(static_cast<int64_t>(value)); }
  Statement& bind_null();
  /// The bytes must live until the statement has run.
  Statement& bind_blob(std::string_view bytes);
  template <size_t N>
  Statement& bind_blob(const ByteArray<N>& bytes) {
    return bind_blob(view_of(bytes));
  }

  /// True: a row is there; false: done.
  [[nodiscard]] Result<bool> step();
  /// Runs to the end, ignoring rows.
  [[nodiscard]] Status run();

  [[nodiscard]] int64_t integer(int column) const;
  [[nodiscard]] uint64_t count(int column) const { return static_cast<uint64_t>(integer(column)); }
  [[nodiscard]] bool is_null(int column) const;
  [[nodiscard]] int columns() const { return sqlite3_column_count(statement_.get()); }
  /// Valid until the next step or start.
  [[nodiscard]] std::string_view blob(int column) const;
  /// kCorrupt when the stored length is another.
  template <size_t N>
  [[nodiscard]] Result<ByteArray<N>> array(int column, std::string_view what) const {
    auto read = array_of<N>(blob(column), what);
    if (!read) return fail(Code::kCorrupt, read.error().message);
    return read;
  }

 private:
  struct Finalizer {
    void operator()(sqlite3_stmt* statement) const { sqlite3_finalize(statement); }
  };
  explicit Statement(sqlite3_stmt* statement) : statement_(statement) {}
  std::unique_ptr<sqlite3_stmt, Finalizer> statement_;
  int next_ = 1;
  int bind_result_ = SQLITE_OK;
};

}  // namespace fairlead::ledger
