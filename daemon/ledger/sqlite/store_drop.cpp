// What a truck deletes. Its disk is full: samples outside jobs go, the oldest first, and a signed
// entry says which. Or the base keeps them: then nothing is said.
#include <limits>

#include "daemon/ledger/sqlite/store_statements.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::ledger {
namespace {

constexpr size_t kMostDropped = 1'000;

struct Spans {
  std::vector<std::pair<uint64_t, uint64_t>> jobs;  // First and last leaf.
  [[nodiscard]] bool hold(uint64_t leaf) const {
    for (const auto& [first, last] : jobs) {
      if (leaf >= first && leaf <= last) return true;
    }
    return false;
  }
};

Result<Spans> spans_of(const Database& database, const Id16& device) {
  auto rows = Statement::prepare(
      database, "SELECT open_leaf, close_leaf FROM job WHERE device = ? AND open_leaf IS NOT NULL");
  if (!rows) return std::unexpected(rows.error());
  rows->start().bind_blob(device);
  Spans spans;
  for (;;) {
    const auto more = rows->step();
    if (!more) return std::unexpected(more.error());
    if (!*more) return spans;
    spans.jobs.emplace_back(
        rows->count(0), rows->is_null(1) ? std::numeric_limits<uint64_t>::max() : rows->count(1));
  }
}

}  // namespace

Result<std::vector<uint64_t>> Store::announce_drop(uint64_t bytes, const OwnEntry& given,
                                                   Dropped& dropped, int64_t now_us) {
  std::vector<uint64_t> leaves;
  Chain* chain = chains_.latest(given.header.device_id);
  if (chain == nullptr) return fail(Code::kNotFound, "chain: none of this device");
  const auto spans = spans_of(database_, given.header.device_id);
  if (!spans) return std::unexpected(spans.error());
  auto rows = Statement::prepare(
      database_,
      "SELECT l.id - 1, l.seq, length(b.bytes) FROM leaf l JOIN body b ON b.id = l.id "
      "WHERE l.chain = ? AND l.seq >= ? AND l.kind = 2 AND l.state = 1 ORDER BY l.seq");
  if (!rows) return std::unexpected(rows.error());
  rows->start().bind(chain->row).bind(drop_from_seq_);
  v1::DropBody body;
  while (leaves.size() < kMostDropped && body.bytes() < bytes) {
    const auto more = rows->step();
    if (!more) return std::unexpected(more.error());
    if (!*more) break;
    // One entry names one run of sequence numbers, so samples of a job end it.
    if (spans->hold(rows->count(0))) {
      if (!leaves.empty()) break;
      drop_from_seq_ = rows->count(1);
      continue;
    }
    if (leaves.empty()) body.set_first_seq(rows->count(1));
    body.set_last_seq(rows->count(1));
    body.set_bytes(body.bytes() + rows->count(2));
    leaves.push_back(rows->count(0));
  }
  if (leaves.empty()) return leaves;
  body.set_bodies(leaves.size());
  body.set_cause("disk full");
  OwnEntry own = given;
  own.header.kind = Kind::kDrop;
  own.body = body.SerializeAsString();
  const auto written = append_own(own, now_us);
  if (!written) return std::unexpected(written.error());
  if (written->outcome == Outcome::kRefused)
    return fail(Code::kInternal, "the ledger refused its own DROP entry: " + written->words);
  dropped.bodies = body.bodies();
  dropped.bytes = body.bytes();
  return leaves;
}

Result<std::vector<uint64_t>> Store::bodies_to_free(const Id16& device, uint64_t upto_seq,
                                                    size_t most) {
  std::vector<uint64_t> leaves;
  const Chain* chain = chains_.latest(device);
  if (chain == nullptr) return fail(Code::kNotFound, "chain: none of this device");
  auto spans = spans_of(database_, device);
  if (!spans) return std::unexpected(spans.error());
  std::erase_if(spans->jobs, [](const auto& span) {
    return span.second != std::numeric_limits<uint64_t>::max();
  });
  auto rows = Statement::prepare(
      database_,
      "SELECT l.id - 1 FROM leaf l WHERE l.chain = ? AND l.seq <= ? AND l.kind IN (1, 2) "
      "AND l.state = 1 AND NOT EXISTS (SELECT 1 FROM attached a WHERE a.leaf = l.id - 1) "
      "ORDER BY l.seq");
  if (!rows) return std::unexpected(rows.error());
  rows->start().bind(chain->row).bind(upto_seq);
  while (leaves.size() < most) {
    const auto more = rows->step();
    if (!more) return std::unexpected(more.error());
    if (!*more) break;
    if (!spans->hold(rows->count(0))) leaves.push_back(rows->count(0));
  }
  return leaves;
}

Status Store::drop_bodies(const std::vector<uint64_t>& leaves) {
  for (const uint64_t leaf : leaves) {
    if (const auto done = statements_->delete_body.start().bind(leaf + 1).run(); !done) return done;
    if (const auto done = statements_->body_gone.start().bind(leaf + 1).run(); !done) return done;
  }
  return {};
}

}  // namespace fairlead::ledger
