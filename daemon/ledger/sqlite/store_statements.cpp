#include "daemon/ledger/sqlite/store_statements.h"

#include <array>
#include <vector>

namespace fairlead::ledger {
namespace {

constexpr std::array kSql = {
    "INSERT INTO leaf(id, recv_us, chain, seq, kind, job, state, entry) VALUES(?,?,?,?,?,?,?,?)",
    "INSERT INTO body(id, salt, form, bytes) VALUES(?,?,?,?)",
    "INSERT INTO node(id, hash) VALUES(?,?)",
    "SELECT id - 1, entry, state FROM leaf WHERE chain = ? AND seq = ?",
    "UPDATE leaf SET state = 1 WHERE id = ?",
    "SELECT id FROM job WHERE job = ?",
    "INSERT INTO job(job) VALUES(?)",
    "UPDATE job SET device = ?, open_leaf = ? WHERE id = ? AND open_leaf IS NULL",
    "UPDATE job SET close_leaf = ? WHERE id = ? AND device = ?",
    "UPDATE job SET close_leaf = NULL WHERE id = ? AND device = ?",
    "SELECT close_leaf FROM job WHERE id = ?",
    "INSERT OR IGNORE INTO file(sha256, bytes) VALUES(?,?)",
    "INSERT OR IGNORE INTO held_order(id, entry, salt, body) VALUES(?,?,?,?)",
    "INSERT INTO named_value(name, sha256, bytes) VALUES(CAST(? AS TEXT),?,?)",
    "DELETE FROM named_value WHERE name = CAST(? AS TEXT)",
    "INSERT INTO attached(sha256, leaf) VALUES(?,?)",
    "SELECT sha256 FROM attached WHERE leaf = ?",
    "SELECT leaf FROM attached WHERE sha256 = ? LIMIT 1",
    "DELETE FROM attached WHERE leaf = ?",
    "SELECT l.kind, l.chain, l.job, l.state, l.entry, b.form, b.bytes "
    "FROM leaf l LEFT JOIN body b ON b.id = l.id WHERE l.id = ?",
    "DELETE FROM body WHERE id = ?",
    "UPDATE leaf SET state = 2 WHERE id = ?",
};

}  // namespace

Result<std::shared_ptr<Store::Statements>> Store::Statements::prepare(const Database& database) {
  std::vector<Statement> s;
  for (const char* sql : kSql) {
    auto statement = Statement::prepare(database, sql);
    if (!statement) return std::unexpected(statement.error());
    s.push_back(std::move(*statement));
  }
  size_t i = 0;
  const auto next = [&]() -> Statement&& { return std::move(s[i++]); };
  // Braces evaluate left to right: the order of kSql is the order of the members.
  return std::shared_ptr<Statements>(new Statements{
      next(), next(), next(), next(), next(), next(), next(), next(), next(), next(), next(),
      next(), next(), next(), next(), next(), next(), next(), next(), next(), next(), next()});
}

}  // namespace fairlead::ledger
