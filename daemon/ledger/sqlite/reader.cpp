#include "daemon/ledger/sqlite/reader.h"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/ledger/sqlite/hold_check.h"

namespace fairlead::ledger {
namespace {

constexpr const char* kRange =
    "SELECT l.id - 1, l.recv_us, l.entry, l.state, b.salt, b.form, b.bytes "
    "FROM leaf l LEFT JOIN body b ON b.id = l.id WHERE l.id > ? ORDER BY l.id LIMIT ?";
constexpr const char* kBareRange =
    "SELECT id - 1, recv_us, entry, state FROM leaf WHERE id > ? ORDER BY id LIMIT ?";
constexpr const char* kDevice =
    "SELECT l.id - 1, l.recv_us, l.entry, l.state, b.salt, b.form, b.bytes "
    "FROM leaf l LEFT JOIN body b ON b.id = l.id "
    "WHERE l.chain = (SELECT id FROM chain WHERE device = ? AND epoch = ?) AND l.seq >= ? "
    "ORDER BY l.seq LIMIT ?";
constexpr const char* kBareDevice =
    "SELECT id - 1, recv_us, entry, state FROM leaf "
    "WHERE chain = (SELECT id FROM chain WHERE device = ? AND epoch = ?) AND seq >= ? "
    "ORDER BY seq LIMIT ?";
constexpr const char* kKind =
    "SELECT l.id - 1, l.recv_us, l.entry, l.state, b.salt, b.form, b.bytes "
    "FROM leaf l LEFT JOIN body b ON b.id = l.id "
    "WHERE l.kind = ? AND l.kind > 2 AND l.id > ? ORDER BY l.id LIMIT ?";
constexpr const char* kJobsOwn =
    "SELECT l.id - 1, l.recv_us, l.entry, l.state, b.salt, b.form, b.bytes "
    "FROM leaf l LEFT JOIN body b ON b.id = l.id "
    "WHERE l.job = (SELECT id FROM job WHERE job = ?) ORDER BY l.id";
// Of every chain of the opener, the jobless entries between the leaves; by seq, so that only the
// opener's own entries are touched.
constexpr const char* kJobsSpan =
    "SELECT l.id - 1, l.recv_us, l.entry, l.state, b.salt, b.form, b.bytes "
    "FROM leaf l LEFT JOIN body b ON b.id = l.id WHERE l.chain = ?1 AND l.job IS NULL "
    "AND l.seq > coalesce((SELECT max(seq) FROM leaf WHERE id = ?2 AND chain = ?1), 0) "
    "AND l.seq < coalesce((SELECT max(seq) FROM leaf WHERE id = ?3 AND chain = ?1), "
    "9223372036854775807) AND l.id > ?2 AND l.id < ?3";
constexpr const char* kJobs =
    "SELECT job, device, open_leaf, close_leaf FROM job WHERE open_leaf >= ? ORDER BY open_leaf "
    "LIMIT ?";
constexpr const char* kJob =
    "SELECT job, device, open_leaf, close_leaf FROM job WHERE job = ? AND open_leaf IS NOT NULL";
constexpr const char* kOpenJobs =
    "SELECT job, device, open_leaf, close_leaf FROM job "
    "WHERE device = ? AND open_leaf IS NOT NULL AND close_leaf IS NULL";

std::unexpected<Error> damaged(uint64_t leaf, std::string_view what) {
  return fail(Code::kCorrupt,
              fmt::format("ledger: leaf {}: {}; restore the ledger from a good copy", leaf, what));
}

}  // namespace

Result<std::unique_ptr<Reader>> Reader::open(const std::filesystem::path& file) {
  auto database = Database::open(file, Access::kReader);
  if (!database) return std::unexpected(database.error());
  auto tree = TreeReader::on(*database);
  if (!tree) return std::unexpected(tree.error());
  return std::unique_ptr<Reader>(new Reader(std::move(*database), std::move(*tree)));
}

Result<Statement*> Reader::statement(const char* sql) {
  auto found = statements_.find(sql);
  if (found == statements_.end()) {
    auto prepared = Statement::prepare(database_, sql);
    if (!prepared) return std::unexpected(prepared.error());
    found = statements_.emplace(sql, std::move(*prepared)).first;
  }
  found->second.start();
  return &found->second;
}

Result<StoredEntry> Reader::entry_of_row(const Statement& row) {
  StoredEntry stored;
  stored.leaf = row.count(0);
  stored.recv_us = row.integer(1);
  const auto entry = row.array<record::kEntrySize>(2, "leaf.entry");
  if (!entry) return damaged(stored.leaf, "its entry has another length");
  stored.entry = *entry;
  const auto header = record::decode_header(*entry);
  if (!header) return damaged(stored.leaf, header.error().message);
  const int64_t state = row.integer(3);
  if (state < 0 || state > 2) return damaged(stored.leaf, "its state is unknown");
  stored.body_state = static_cast<BodyState>(state);
  const bool asked = row.columns() > 4;
  if (!asked || stored.body_state != BodyState::kHere) return stored;
  const auto salt = row.array<16>(4, "body.salt");
  if (!salt) return damaged(stored.leaf, "its body is gone");
  stored.salt = *salt;
  auto body = codec_.unpack(static_cast<BodyForm>(row.integer(5)), row.blob(6), header->body_len);
  if (!body) return damaged(stored.leaf, body.error().message);
  stored.body = std::move(*body);
  return stored;
}

Result<std::vector<StoredEntry>> Reader::collect(Statement& rows) {
  std::vector<StoredEntry> entries;
  for (;;) {
    const auto more = rows.step();
    if (!more) return std::unexpected(more.error());
    if (!*more) return entries;
    auto entry = entry_of_row(rows);
    if (!entry) {
      rows.start();
      return std::unexpected(entry.error());
    }
    entries.push_back(std::move(*entry));
  }
}

Result<std::vector<StoredEntry>> Reader::entries(uint64_t from_leaf, size_t most, bool bodies) {
  const auto rows = statement(bodies ? kRange : kBareRange);
  if (!rows) return std::unexpected(rows.error());
  (*rows)->bind(from_leaf).bind(uint64_t{most});
  return collect(**rows);
}

Result<std::vector<StoredEntry>> Reader::device_entries(const Id16& device_id, uint32_t epoch,
                                                        uint64_t from_seq, size_t most,
                                                        bool bodies) {
  const auto rows = statement(bodies ? kDevice : kBareDevice);
  if (!rows) return std::unexpected(rows.error());
  (*rows)->bind_blob(device_id).bind(uint64_t{epoch}).bind(from_seq).bind(uint64_t{most});
  return collect(**rows);
}

Result<std::vector<uint64_t>> Reader::waiting(const Id16& device_id, uint32_t epoch, size_t most) {
  const auto rows = statement(
      "SELECT seq FROM leaf WHERE chain = (SELECT id FROM chain WHERE device = ? AND epoch = ?) "
      "AND state = 0 ORDER BY seq LIMIT ?");
  if (!rows) return std::unexpected(rows.error());
  (*rows)->bind_blob(device_id).bind(uint64_t{epoch}).bind(uint64_t{most});
  std::vector<uint64_t> seqs;
  for (;;) {
    const auto more = (*rows)->step();
    if (!more) return std::unexpected(more.error());
    if (!*more) return seqs;
    seqs.push_back((*rows)->count(0));
  }
}

Result<std::vector<StoredEntry>> Reader::entries_of_kind(Kind kind, uint64_t from_leaf,
                                                         size_t most) {
  if (kind == Kind::kObservations || kind == Kind::kStrip) {
    return fail(Code::kBadInput,
                record::kind_name(kind) + ": is not listed by kind; read it by job");
  }
  const auto rows = statement(kKind);
  if (!rows) return std::unexpected(rows.error());
  (*rows)->bind(uint64_t{static_cast<uint8_t>(kind)}).bind(from_leaf).bind(uint64_t{most});
  return collect(**rows);
}

Result<std::vector<StoredEntry>> Reader::job_entries(const Id16& job_id) {
  // One snapshot for several statements.
  if (const auto begun = database_.run("BEGIN"); !begun) return std::unexpected(begun.error());
  auto entries = job_entries_inside(job_id);
  if (const auto ended = database_.run("ROLLBACK"); !ended) return std::unexpected(ended.error());
  return entries;
}

Result<std::vector<StoredEntry>> Reader::job_entries_inside(const Id16& job_id) {
  const auto row = job(job_id);
  if (!row) return std::unexpected(row.error());
  const auto own = statement(kJobsOwn);
  if (!own) return std::unexpected(own.error());
  (*own)->bind_blob(job_id);
  auto all = collect(**own);
  if (!all) return all;
  const auto chains = statement("SELECT id FROM chain WHERE device = ?");
  if (!chains) return std::unexpected(chains.error());
  (*chains)->bind_blob(row->device_id);
  std::vector<int64_t> ids;
  for (;;) {
    const auto more = (*chains)->step();
    if (!more) return std::unexpected(more.error());
    if (!*more) break;
    ids.push_back((*chains)->integer(0));
  }
  for (const int64_t id : ids) {
    const auto span = statement(kJobsSpan);
    if (!span) return std::unexpected(span.error());
    // Row ids are leaf + 1.
    (*span)->bind(id).bind(row->open_leaf + 1);
    (*span)->bind(row->close_leaf ? *row->close_leaf + 1 : uint64_t{1} << 62);
    auto more = collect(**span);
    if (!more) return more;
    std::move(more->begin(), more->end(), std::back_inserter(*all));
  }
  std::ranges::sort(*all, {}, &StoredEntry::leaf);
  return all;
}

Result<std::vector<JobRow>> Reader::collect_jobs(Statement& rows) {
  std::vector<JobRow> jobs;
  for (;;) {
    const auto more = rows.step();
    if (!more) return std::unexpected(more.error());
    if (!*more) return jobs;
    const auto job = rows.array<16>(0, "job.job");
    const auto device = rows.array<16>(1, "job.device");
    if (!job || !device)
      return fail(Code::kCorrupt, "ledger: a job's row is damaged; restore a good copy");
    jobs.push_back({*job, *device, rows.count(2), {}});
    if (!rows.is_null(3)) jobs.back().close_leaf = rows.count(3);
  }
}

Result<std::vector<JobRow>> Reader::jobs(uint64_t from_leaf, size_t most) {
  const auto rows = statement(kJobs);
  if (!rows) return std::unexpected(rows.error());
  (*rows)->bind(from_leaf).bind(uint64_t{most});
  return collect_jobs(**rows);
}

Result<JobRow> Reader::job(const Id16& job_id) {
  const auto rows = statement(kJob);
  if (!rows) return std::unexpected(rows.error());
  (*rows)->bind_blob(job_id);
  const auto found = collect_jobs(**rows);
  if (!found) return std::unexpected(found.error());
  if (!found->empty()) return found->front();
  return fail(Code::kNotFound,
              fmt::format("job {}: was never opened here; check the id", hex_of(job_id)));
}

Result<std::vector<JobRow>> Reader::open_jobs(const Id16& device_id) {
  const auto rows = statement(kOpenJobs);
  if (!rows) return std::unexpected(rows.error());
  (*rows)->bind_blob(device_id);
  return collect_jobs(**rows);
}

Result<std::string> Reader::file(const Hash& hash) {
  const auto row = statement("SELECT bytes FROM file WHERE sha256 = ?");
  if (!row) return std::unexpected(row.error());
  (*row)->bind_blob(hash);
  const auto there = (*row)->step();
  if (!there) return std::unexpected(there.error());
  if (!*there)
    return fail(Code::kNotFound, fmt::format("file {}: is not here; put it in", hex_of(hash)));
  std::string bytes((*row)->blob(0));
  (*row)->start();
  if (sha256(bytes) == hash) return bytes;
  return fail(Code::kCorrupt,
              fmt::format("file {}: its bytes have changed; put it in again", hex_of(hash)));
}

Result<std::vector<HeldOrder>> Reader::orders(uint64_t from_leaf) {
  const auto rows =
      statement("SELECT id, entry, salt, body FROM held_order WHERE id >= ? ORDER BY id");
  if (!rows) return std::unexpected(rows.error());
  (*rows)->bind(from_leaf);
  std::vector<HeldOrder> orders;
  for (;;) {
    const auto more = (*rows)->step();
    if (!more) return std::unexpected(more.error());
    if (!*more) return orders;
    const auto entry = (*rows)->array<record::kEntrySize>(1, "held_order.entry");
    const auto salt = (*rows)->array<16>(2, "held_order.salt");
    if (!entry || !salt)
      return fail(Code::kCorrupt, "ledger: a held order is damaged; ask for it again");
    orders.push_back({(*rows)->count(0), *entry, *salt, std::string((*rows)->blob(3))});
  }
}

Result<std::string> Reader::value(std::string_view name) {
  const auto row = statement("SELECT bytes, sha256 FROM named_value WHERE name = CAST(? AS TEXT)");
  if (!row) return std::unexpected(row.error());
  (*row)->bind_blob(name);
  const auto there = (*row)->step();
  if (!there) return std::unexpected(there.error());
  if (!*there)
    return fail(Code::kNotFound, fmt::format("value {}: was never put; put it first", name));
  std::string bytes((*row)->blob(0));
  const bool whole = (*row)->blob(1) == string_of(sha256(bytes));
  (*row)->start();
  if (whole) return bytes;
  return fail(Code::kCorrupt, fmt::format("value {}: its bytes have changed; put it again", name));
}

Result<std::vector<uint64_t>> Reader::leaves_naming(const Hash& sha256) {
  const auto rows = statement("SELECT DISTINCT leaf FROM attached WHERE sha256 = ? ORDER BY leaf");
  if (!rows) return std::unexpected(rows.error());
  (*rows)->bind_blob(sha256);
  std::vector<uint64_t> leaves;
  for (;;) {
    const auto more = (*rows)->step();
    if (!more) return std::unexpected(more.error());
    if (!*more) return leaves;
    leaves.push_back((*rows)->count(0));
  }
}

Result<Holds> Reader::holds() { return read_holds(database_, codec_); }

Result<uint64_t> Reader::reusable_bytes() {
  uint64_t product = 1;
  for (const char* sql : {"PRAGMA freelist_count", "PRAGMA page_size"}) {
    const auto row = statement(sql);
    if (!row) return std::unexpected(row.error());
    const auto there = (*row)->step();
    if (!there) return std::unexpected(there.error());
    product *= *there ? (*row)->count(0) : 0;
    (*row)->start();
  }
  return product;
}

record::NodeAt Reader::nodes() {
  return [this](unsigned level, uint64_t index) { return tree_.node(level, index); };
}

Result<std::unique_ptr<Reader>> Readers::take() {
  {
    const std::scoped_lock lock(mutex_);
    if (!free_.empty()) {
      auto reader = std::move(free_.back());
      free_.pop_back();
      return reader;
    }
  }
  return Reader::open(file_);
}

void Readers::give(std::unique_ptr<Reader> reader) {
  // A single row read (a tree node, a file) leaves its statement open; the next user of this
  // connection would then see the ledger as it stood at that read.
  reader->database().end_reads();
  const std::scoped_lock lock(mutex_);
  free_.push_back(std::move(reader));
}

void Readers::clear() {
  const std::scoped_lock lock(mutex_);
  free_.clear();
}

}  // namespace fairlead::ledger
