#include "daemon/ledger/sqlite/audit.h"

#include <fmt/format.h>

#include <array>
#include <chrono>
#include <limits>
#include <thread>

#include "daemon/ledger/sqlite/audit_leaves.h"
#include "daemon/ledger/sqlite/tree_rows.h"

namespace fairlead::ledger {
namespace {

struct Count {
  const char* sql;  // Gives 0 when all is well.
  const char* problem;
};

// Tables that could be built again must still say what the leaves say.
constexpr std::array kDerived = {
    Count{"SELECT count(*) FROM body b LEFT JOIN leaf l ON l.id = b.id WHERE l.id IS NULL",
          "bodies without an entry"},
    Count{
        "SELECT count(*) FROM job j LEFT JOIN leaf l ON l.id = j.open_leaf + 1 "
        "LEFT JOIN chain c ON c.id = l.chain WHERE j.open_leaf IS NOT NULL AND "
        "(l.id IS NULL OR l.kind NOT IN (4, 11) OR l.job IS NOT j.id OR c.device IS NOT j.device)",
        "jobs whose opening is not where their row says"},
    Count{"SELECT count(*) FROM job j LEFT JOIN leaf l ON l.id = j.close_leaf + 1 "
          "WHERE j.close_leaf IS NOT NULL AND (l.id IS NULL OR l.kind NOT IN (5, 11) OR l.job IS "
          "NOT j.id)",
          "jobs whose closing is not where their row says"},
    Count{
        "SELECT count(*) FROM attached a LEFT JOIN body b ON b.id = a.leaf + 1 WHERE b.id IS NULL",
        "names of attachments without their body"},
    Count{"SELECT count(*) FROM leaf l JOIN job j ON j.id = l.job WHERE l.kind = 4 AND "
          "(j.open_leaf IS NULL OR j.open_leaf > l.id - 1)",
          "openings that no job's row names"},
};

void note(AuditReport& report, std::string problem) {
  constexpr size_t kMostProblems = 100;
  if (report.problems.size() < kMostProblems) report.problems.push_back(std::move(problem));
}

Status check_derived(const Database& database, AuditReport& report) {
  for (const auto& check : kDerived) {
    auto count = Statement::prepare(database, check.sql);
    if (!count) return std::unexpected(count.error());
    const auto row = count->step();
    if (!row) return std::unexpected(row.error());
    if (count->integer(0) == 0) continue;
    note(report, fmt::format("{} {}", count->integer(0), check.problem));
    ++report.derived;
  }
  return {};
}

Status check_node_count(const Database& database, uint64_t leaves, AuditReport& report) {
  auto count = Statement::prepare(database, "SELECT count(*) FROM node");
  if (!count) return std::unexpected(count.error());
  const auto row = count->step();
  if (!row) return std::unexpected(row.error());
  uint64_t expected = 0;
  for (unsigned level = kLowestStoredLevel; level < 64; ++level) expected += leaves >> level;
  if (count->count(0) != expected) {
    note(report, fmt::format("tree: has {} nodes, should have {}", count->count(0), expected));
    ++report.derived;
  }
  return {};
}

Status check_hashed(const Database& database, const char* sql, std::string_view what,
                    AuditReport& report) {
  auto rows = Statement::prepare(database, sql);
  if (!rows) return std::unexpected(rows.error());
  for (;;) {
    const auto more = rows->step();
    if (!more) return std::unexpected(more.error());
    if (!*more) return {};
    const Hash hash = sha256(rows->blob(1));
    if (rows->blob(0) != view_of(hash))
      note(report, fmt::format("a {}'s bytes have changed", what));
  }
}

Status check_orders(const Database& database, AuditReport& report) {
  auto rows = Statement::prepare(database, "SELECT entry, salt, body FROM held_order");
  if (!rows) return std::unexpected(rows.error());
  for (;;) {
    const auto more = rows->step();
    if (!more) return std::unexpected(more.error());
    if (!*more) return {};
    const auto header = record::decode_header(rows->blob(0));
    const auto salt = rows->array<16>(1, "held_order.salt");
    if (!header || !salt || !record::body_matches(*header, *salt, rows->blob(2))) {
      note(report, "a held order's bytes have changed");
    }
  }
}

Status check_pages(const Database& database, AuditReport& report) {
  auto rows = Statement::prepare(database, "PRAGMA integrity_check(20)");
  if (!rows) return std::unexpected(rows.error());
  for (;;) {
    const auto more = rows->step();
    if (!more) return std::unexpected(more.error());
    if (!*more) return {};
    const std::string words(rows->blob(0));
    if (words != "ok") note(report, "database: " + words);
  }
}

// What is beside the leaves: the database's pages, derived tables, files, values, orders.
Status check_beside(const Database& database, const AuditScope& scope, AuditReport& report) {
  Status done = check_pages(database, report);
  if (done) done = check_derived(database, report);
  if (done && scope.tree) done = check_node_count(database, report.leaves, report);
  if (done) done = check_hashed(database, "SELECT sha256, bytes FROM file", "file", report);
  if (done) done = check_hashed(database, "SELECT sha256, bytes FROM named_value", "value", report);
  if (done) done = check_orders(database, report);
  return done;
}

uint64_t count_leaves(const Database& database) {
  auto last = Statement::prepare(database, "SELECT coalesce(max(id), 0) FROM leaf");
  const auto row = last ? last->step() : std::unexpected(last.error());
  return row && *row ? last->count(0) : 0;
}

// Between pieces of work: tells how far it is, rests for its share of the time.
class Pace {
 public:
  explicit Pace(const AuditOptions& options) : options_(options) {}
  bool go_on(const AuditProgress& progress) {
    if (options_.share < 1) {
      const auto worked = Clock::now() - since_;
      const auto rest = std::chrono::duration_cast<Clock::duration>(
          worked * ((1 - options_.share) / options_.share));
      for (const auto until = Clock::now() + rest; Clock::now() < until;) {
        if (!tell(progress)) return false;
        std::this_thread::sleep_for(
            std::min<Clock::duration>(until - Clock::now(), std::chrono::milliseconds(50)));
      }
    }
    since_ = Clock::now();
    return tell(progress);
  }

 private:
  using Clock = std::chrono::steady_clock;
  bool tell(const AuditProgress& progress) const {
    return !options_.progress || options_.progress(progress);
  }
  const AuditOptions& options_;
  Clock::time_point since_ = Clock::now();
};

std::unexpected<Error> stopped() {
  return fail(Code::kUnavailable, "audit: was stopped before its end; start it again");
}

// The leaves and what stands beside them; what cannot be read is a problem of the report.
Status audit_database(const Database& database, const AuditScope& scope, Pace& pace,
                      AuditProgress& progress, AuditReport& report) {
  constexpr size_t kPiece = 1'000;
  LeafWalk walk(database, scope, report);
  for (bool first = true;; first = false) {
    if (const auto begun = database.run("BEGIN"); !begun) return begun;
    Status done = first ? walk.begin() : walk.refresh();
    const auto more = done ? walk.advance(kPiece) : Result<bool>(std::unexpected(done.error()));
    if (more && !*more) done = check_beside(database, scope, report);
    if (const auto ended = database.run("ROLLBACK"); !ended) return ended;
    if (!more) return std::unexpected(more.error());
    if (!*more) return done;
    progress.leaves = report.leaves;
    progress.leaves_total = count_leaves(database);
    if (!pace.go_on(progress)) return stopped();
  }
}

}  // namespace

Result<AuditReport> audit_files(const std::filesystem::path& folder, const AuditScope& scope,
                                const AuditOptions& options) {
  AuditReport report;
  AuditProgress progress;
  Pace pace(options);
  auto database = Database::open(folder / "ledger.db", Access::kReader);
  if (!database) return std::unexpected(database.error());
  const auto done = audit_database(*database, scope, pace, progress, report);
  if (!done && done.error().code == Code::kUnavailable) return std::unexpected(done.error());
  if (!done) {
    note(report, fmt::format("leaf {} and what follows cannot be read: {}", report.leaves,
                             done.error().message));
  }
  progress.leaves = progress.leaves_total = report.leaves;
  const auto files =
      Attachments(folder / "attachments").audit(report.problems, [&](uint64_t number) {
        progress.attachments = number;
        return pace.go_on(progress);
      });
  if (!files) return std::unexpected(files.error());
  report.attachments = *files;
  return report;
}

Result<AuditReport> audit_snapshot(const Database& database, const AuditScope& scope) {
  AuditReport report;
  if (const auto begun = database.run("BEGIN"); !begun) return std::unexpected(begun.error());
  LeafWalk walk(database, scope, report);
  Status done = walk.begin();
  if (done) {
    const auto more = walk.advance(std::numeric_limits<int64_t>::max());
    if (!more) done = std::unexpected(more.error());
  }
  if (done && scope.pages) done = check_beside(database, scope, report);
  const Status ended = database.run("ROLLBACK");
  if (!done) return std::unexpected(done.error());
  if (!ended) return std::unexpected(ended.error());
  return report;
}

}  // namespace fairlead::ledger
