#include <fmt/format.h>

#include "daemon/ledger/sqlite/hold_check.h"
#include "daemon/ledger/sqlite/store_statements.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::ledger {
namespace {

// What may go: what was seen, said, measured or photographed, who people are, what somebody claims.
// All else is the record's own skeleton and names people by the id of a card only.
bool may_be_erased(Kind kind) {
  return kind == Kind::kObservations || kind == Kind::kStrip || kind == Kind::kCard ||
         kind == Kind::kRecovered || kind == Kind::kClaim;
}

}  // namespace

// What stands against erasing this leaf; nullopt when nothing does, then `header` is filled in.
Result<std::optional<std::string>> Store::why_kept(uint64_t leaf, HoldCheck& holds,
                                                   EntryHeader& header) {
  auto& row = statements_->leaf_row.start().bind(leaf + 1);
  const auto there = row.step();
  if (!there) return std::unexpected(there.error());
  if (!*there) return fmt::format("is beyond the end; there are {} entries", next_leaf_);
  const auto read = record::decode_header(row.blob(4));
  if (!read) return fail(Code::kCorrupt, "ledger: " + read.error().message);
  header = *read;
  HoldCheck::Entry entry{leaf, header.kind, row.integer(1), {}, {}};
  if (!row.is_null(2)) entry.job = row.integer(2);
  const auto state = static_cast<BodyState>(row.integer(3));
  std::string card;
  if (header.kind == Kind::kCard && state == BodyState::kHere) {
    auto body = codec_.unpack(static_cast<BodyForm>(row.integer(5)), row.blob(6), header.body_len);
    if (!body) return std::unexpected(body.error());
    card = std::move(*body);
    entry.body = card;
  }
  row.start();
  if (state == BodyState::kErased) return "is erased already";
  if (!may_be_erased(header.kind)) {
    return record::kind_name(header.kind) +
           " stays as long as the ledger: it names people by the id of a card only; erase the card";
  }
  return holds.held_by(entry);
}

Result<EraseResult> Store::erase(const EraseOrder& order, int64_t now_us) {
  auto holds = HoldCheck::load(database_);
  if (!holds) return std::unexpected(holds.error());
  EraseResult result;
  std::set<Hash> named;
  for (const uint64_t leaf : order.leaves) {
    if (result.leaves.size() == EraseOrder::kMostLeaves ||
        named.size() >= EraseOrder::kMostAttachments) {
      break;
    }
    ++result.taken;
    EntryHeader header;
    auto why = why_kept(leaf, *holds, header);
    if (!why) return std::unexpected(why.error());
    if (*why) {
      result.kept.push_back({leaf, std::move(**why)});
      continue;
    }
    const auto files = attachments_of(leaf);
    if (!files) return std::unexpected(files.error());
    named.insert(files->begin(), files->end());
    result.leaves.push_back(leaf);
    if (order.dry_run) continue;
    if (const auto done = erase_body(leaf, header); !done) return std::unexpected(done.error());
  }
  if (order.dry_run) result.attachments.assign(named.begin(), named.end());
  if (order.dry_run || result.leaves.empty()) return result;
  if (const auto said = write_erase(order, named, result, now_us); !said)
    return std::unexpected(said.error());
  return result;
}

Status Store::write_erase(const EraseOrder& order, const std::set<Hash>& named, EraseResult& result,
                          int64_t now_us) {
  for (const Hash& hash : named) {
    auto& other = statements_->attached_again.start().bind_blob(hash);
    const auto there = other.step();
    if (!there) return std::unexpected(there.error());
    other.start();
    if (*there) {
      ++result.attachments_shared;
    } else {
      result.attachments.push_back(hash);
    }
  }
  v1::EraseBody body;
  body.mutable_leaf()->Assign(result.leaves.begin(), result.leaves.end());
  for (const Hash& hash : result.attachments) body.add_attachment_sha256(string_of(hash));
  body.set_policy(order.policy);
  body.set_words(order.words);
  OwnEntry own = order.own;
  own.header.kind = Kind::kErase;
  own.body = body.SerializeAsString();
  const auto written = append_own(own, now_us);
  if (!written) return std::unexpected(written.error());
  if (written->outcome == Outcome::kRefused)
    return fail(Code::kInternal, "the ledger refused its own ERASE entry: " + written->words);
  result.entry = written->leaf;
  return ask_for_rewrite();
}

Result<std::vector<Hash>> Store::attachments_of(uint64_t leaf) {
  auto& rows = statements_->attached_of.start().bind(leaf);
  std::vector<Hash> out;
  for (;;) {
    const auto more = rows.step();
    if (!more) return std::unexpected(more.error());
    if (!*more) return out;
    const auto hash = rows.array<32>(0, "attached.sha256");
    if (!hash) return std::unexpected(hash.error());
    out.push_back(*hash);
  }
}

Status Store::erase_body(uint64_t leaf, const EntryHeader& header) {
  if (const auto done = statements_->forget_attached.start().bind(leaf).run(); !done) return done;
  if (const auto done = statements_->delete_body.start().bind(leaf + 1).run(); !done) return done;
  if (const auto done = statements_->body_gone.start().bind(leaf + 1).run(); !done) return done;
  Chain* chain = chains_.find(header.device_id, header.epoch);
  if (chain == nullptr || chain->waiting.erase(header.seq) == 0) return {};
  chain->settle_bodies();
  chain->changed = true;
  return {};
}

Status Store::follow_drop(Chain& chain, std::string_view bytes) {
  v1::DropBody body;
  if (!body.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()))) return {};
  const auto from = chain.waiting.lower_bound(body.first_seq());
  const auto to = chain.waiting.upper_bound(body.last_seq());
  for (auto seq = from; seq != to; ++seq) {
    auto& at = statements_->leaf_at.start().bind(chain.row).bind(*seq);
    const auto there = at.step();
    if (!there) return std::unexpected(there.error());
    if (!*there) return fail(Code::kCorrupt, "ledger: an acknowledged entry is gone; restore it");
    const uint64_t leaf = at.count(0);
    at.start();
    if (const auto gone = statements_->body_gone.start().bind(leaf + 1).run(); !gone) return gone;
  }
  if (from != to) chain.waiting.erase(from, to);
  return {};
}

}  // namespace fairlead::ledger
