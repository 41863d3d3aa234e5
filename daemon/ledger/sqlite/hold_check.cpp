#include "daemon/ledger/sqlite/hold_check.h"

#include <fmt/format.h>

#include <limits>

#include "daemon/ledger/names.h"

namespace fairlead::ledger {
namespace {

// Columns entry, form, bytes from `first` on.
Result<std::string> body_of_row(BodyCodec& codec, const Statement& row, int first) {
  const auto header = record::decode_header(row.blob(first));
  if (!header) return fail(Code::kCorrupt, "ledger: " + header.error().message);
  return codec.unpack(static_cast<BodyForm>(row.integer(first + 1)), row.blob(first + 2),
                      header->body_len);
}

}  // namespace

Result<Holds> read_holds(const Database& database, BodyCodec& codec) {
  auto rows = Statement::prepare(
      database,
      "SELECT l.id - 1, l.kind, l.entry, b.form, b.bytes FROM leaf l LEFT JOIN body b ON "
      "b.id = l.id WHERE l.kind IN (72, 73) AND l.kind > 2 ORDER BY l.id");
  if (!rows) return std::unexpected(rows.error());
  Holds holds;
  for (;;) {
    const auto more = rows->step();
    if (!more) return std::unexpected(more.error());
    if (!*more) return holds;
    const auto body = body_of_row(codec, *rows, 2);
    if (!body) return std::unexpected(body.error());
    const auto taken = holds.take(static_cast<Kind>(rows->integer(1)), *body, rows->count(0));
    if (!taken) return std::unexpected(taken.error());
  }
}

Result<HoldCheck> HoldCheck::load(const Database& database) {
  HoldCheck check(database);
  auto holds = read_holds(database, check.codec_);
  if (!holds) return std::unexpected(holds.error());
  check.holds_ = std::move(*holds);
  if (const auto spans = check.load_spans(); !spans) return std::unexpected(spans.error());
  return check;
}

Status HoldCheck::load_spans() {
  for (const auto& [claim, hold] : holds_.active()) {
    for (const Id16& job : hold.jobs) {
      if (const auto added = add_span(job, hold); !added) return added;
    }
  }
  return {};
}

Status HoldCheck::add_span(const Id16& job_id, const Hold& hold) {
  auto row = Statement::prepare(*database_,
                                "SELECT id, device, open_leaf, close_leaf FROM job WHERE job = ?");
  auto chains = Statement::prepare(*database_, "SELECT id FROM chain WHERE device = ?");
  if (!row || !chains) return database_->error("reading a held job");
  row->start().bind_blob(job_id);
  const auto there = row->step();
  if (!there) return std::unexpected(there.error());
  if (!*there) return {};  // Nothing of it is here.
  Span span;
  span.job = row->integer(0);
  span.words = fmt::format("held as evidence for claim {} (leaf {})", hold.claim_id, hold.leaf);
  span.first = std::numeric_limits<uint64_t>::max();
  if (!row->is_null(2)) {
    span.first = row->count(2);
    span.last = row->is_null(3) ? std::numeric_limits<uint64_t>::max() : row->count(3);
    const std::string device(row->blob(1));
    chains->start().bind_blob(device);
    for (;;) {
      const auto more = chains->step();
      if (!more) return std::unexpected(more.error());
      if (!*more) break;
      span.chains.insert(chains->integer(0));
    }
  }
  spans_.push_back(std::move(span));
  return {};
}

// Every card a held job's entries name: lines name it in hex, a claim by its bytes.
Status HoldCheck::load_cards() {
  cards_.emplace();
  auto rows = Statement::prepare(
      *database_,
      "SELECT l.entry, b.form, b.bytes, l.kind FROM leaf l JOIN body b ON b.id = l.id "
      "WHERE l.job = ? AND l.kind <> 2");
  if (!rows) return std::unexpected(rows.error());
  for (const Span& span : spans_) {
    rows->start().bind(span.job);
    for (;;) {
      const auto more = rows->step();
      if (!more) return std::unexpected(more.error());
      if (!*more) break;
      const auto body = body_of_row(codec_, *rows, 0);
      if (!body) return std::unexpected(body.error());
      for (const std::string& card : cards_in(*body)) cards_->emplace(card, span.words);
      v1::ClaimBody claim;
      if (static_cast<Kind>(rows->integer(3)) == Kind::kClaim && claim.ParseFromString(*body))
        cards_->emplace(hex_of(claim.claimant_card()), span.words);
    }
  }
  return {};
}

Result<std::optional<std::string>> HoldCheck::held_by(const Entry& entry) {
  for (const Span& span : spans_) {
    const bool inside = entry.leaf >= span.first && entry.leaf <= span.last;
    if (entry.job == span.job || (inside && span.chains.contains(entry.chain))) return span.words;
  }
  if (entry.kind != Kind::kCard || spans_.empty()) return std::nullopt;
  if (!cards_) {
    if (const auto loaded = load_cards(); !loaded) return std::unexpected(loaded.error());
  }
  v1::CardBody card;
  if (!card.ParseFromArray(entry.body.data(), static_cast<int>(entry.body.size())))
    return std::nullopt;
  const auto found = cards_->find(hex_of(card.card_id()));
  return found == cards_->end() ? std::nullopt : std::optional(found->second);
}

}  // namespace fairlead::ledger
