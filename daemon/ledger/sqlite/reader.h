// Reads a ledger through one read-only connection, and a pool of such readers.
//
// Threads: a Reader belongs to one thread at a time; Readers may be used from any.
#pragma once

#include <map>
#include <mutex>
#include <vector>

#include "daemon/ledger/body_codec.h"
#include "daemon/ledger/holds.h"
#include "daemon/ledger/sqlite/database.h"
#include "daemon/ledger/sqlite/tree_rows.h"
#include "daemon/ledger/types.h"

namespace fairlead::ledger {

class Reader {
 public:
  [[nodiscard]] static Result<std::unique_ptr<Reader>> open(const std::filesystem::path& file);

  [[nodiscard]] Result<std::vector<StoredEntry>> entries(uint64_t from_leaf, size_t most,
                                                         bool bodies);
  [[nodiscard]] Result<std::vector<StoredEntry>> device_entries(const Id16& device_id,
                                                                uint32_t epoch, uint64_t from_seq,
                                                                size_t most, bool bodies);
  /// Seqs whose body has not come, ascending.
  [[nodiscard]] Result<std::vector<uint64_t>> waiting(const Id16& device_id, uint32_t epoch,
                                                      size_t most);
  [[nodiscard]] Result<std::vector<StoredEntry>> entries_of_kind(Kind kind, uint64_t from_leaf,
                                                                 size_t most);
  [[nodiscard]] Result<std::vector<StoredEntry>> job_entries(const Id16& job_id);
  [[nodiscard]] Result<std::vector<JobRow>> jobs(uint64_t from_leaf, size_t most);
  [[nodiscard]] Result<JobRow> job(const Id16& job_id);
  [[nodiscard]] Result<std::vector<JobRow>> open_jobs(const Id16& device_id);
  [[nodiscard]] Result<std::string> file(const Hash& sha256);
  [[nodiscard]] Result<std::vector<HeldOrder>> orders(uint64_t from_leaf);
  [[nodiscard]] Result<std::string> value(std::string_view name);
  [[nodiscard]] Result<std::vector<uint64_t>> leaves_naming(const Hash& sha256);
  [[nodiscard]] Result<Holds> holds();
  [[nodiscard]] Result<uint64_t> reusable_bytes();
  [[nodiscard]] record::NodeAt nodes();
  [[nodiscard]] Database& database() { return database_; }

 private:
  explicit Reader(Database database, TreeReader tree)
      : database_(std::move(database)), tree_(std::move(tree)) {}
  /// Prepared at first use; `sql` must be a literal.
  [[nodiscard]] Result<Statement*> statement(const char* sql);
  [[nodiscard]] Result<std::vector<StoredEntry>> collect(Statement& rows);
  [[nodiscard]] Result<StoredEntry> entry_of_row(const Statement& row);
  [[nodiscard]] Result<std::vector<JobRow>> collect_jobs(Statement& rows);
  [[nodiscard]] Result<std::vector<StoredEntry>> job_entries_inside(const Id16& job_id);

  Database database_;
  TreeReader tree_;
  BodyCodec codec_;
  std::map<const char*, Statement> statements_;
};

class Readers {
 public:
  explicit Readers(std::filesystem::path file) : file_(std::move(file)) {}

  /// Runs `work` on a free reader, or a new one.
  template <typename Work>
  auto with(Work&& work) -> decltype(work(std::declval<Reader&>())) {
    auto reader = take();
    if (!reader) return std::unexpected(reader.error());
    auto result = work(**reader);
    give(std::move(*reader));
    return result;
  }
  /// Closes all that are free; the last thing before the writer closes.
  void clear();

 private:
  [[nodiscard]] Result<std::unique_ptr<Reader>> take();
  void give(std::unique_ptr<Reader> reader);
  std::filesystem::path file_;
  std::mutex mutex_;
  std::vector<std::unique_ptr<Reader>> free_;
};

}  // namespace fairlead::ledger
