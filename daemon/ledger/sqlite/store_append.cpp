#include <fmt/format.h>

#include <algorithm>

#include "daemon/ledger/sqlite/store_statements.h"

namespace fairlead::ledger {
namespace {

AppendResult refused(Refusal why, std::string words, const Chain* chain = nullptr) {
  AppendResult result;
  result.refusal = why;
  result.words = std::move(words);
  if (chain != nullptr) result.mark = chain->mark;
  return result;
}

AppendResult accepted(Outcome outcome, uint64_t leaf, const EntryBytes& entry, const Chain& chain) {
  AppendResult result;
  result.outcome = outcome;
  result.leaf = leaf;
  result.entry = entry;
  result.mark = chain.mark;
  return result;
}

// What is wrong with an entry's place in its chain; kNone when it is the next one.
AppendResult place(const Chain& chain, const EntryHeader& header) {
  if (header.seq != chain.mark.seq + 1) {
    return refused(Refusal::kOutOfOrder,
                   fmt::format("seq: is {}; send {} next", header.seq, chain.mark.seq + 1), &chain);
  }
  if (header.prev != chain.tip()) {
    return refused(Refusal::kBrokenChain,
                   fmt::format("prev: does not name entry {}; compare the chains", chain.mark.seq),
                   &chain);
  }
  return {};
}

}  // namespace

Result<AppendResult> Store::append(const SentEntry& sent, int64_t now_us) {
  const auto read = record::decode_header(sent.entry);
  if (!read) return refused(Refusal::kBadForm, read.error().message);
  const EntryHeader& header = *read;
  if (record::is_base_kind(header.kind)) {
    return refused(Refusal::kBadForm, record::kind_name(header.kind) +
                                          ": only a base writes this kind; send none of them");
  }
  if (tree_ && header.ledger_id != ledger_id_ &&
      std::ranges::find(ancestors_, header.ledger_id) == ancestors_.end()) {
    return refused(Refusal::kBadForm,
                   "ledger_id: is of another ledger; enrol with this base before recording for it");
  }
  Chain* chain = chains_.find(header.device_id, header.epoch);
  if (chain == nullptr) {
    return refused(Refusal::kUnknownDevice,
                   fmt::format("device {} epoch {}: is not enrolled here; enrol it",
                               hex_of(header.device_id), header.epoch));
  }
  if (header.seq <= chain->mark.seq) return again(*chain, header, sent);
  if (chain != chains_.latest(header.device_id)) {
    return refused(Refusal::kUnknownDevice, "epoch: has ended; go on in the device's newest epoch",
                   chains_.latest(header.device_id));
  }
  if (auto wrong = place(*chain, header); wrong.refusal != Refusal::kNone) return wrong;
  if (!record::verify_entry(sent.entry, chain->mark.key)) {
    return refused(Refusal::kBadSignature,
                   "signature: is not of the enrolled key; enrol the new key", chain);
  }
  const bool here = sent.body_state == BodyState::kHere;
  if (here && !record::body_matches(header, sent.salt, sent.body)) {
    return refused(Refusal::kBodyMismatch, "body: is not the one signed for; send it unchanged",
                   chain);
  }
  if (sent.body_state == BodyState::kFollows && header.kind != Kind::kStrip) {
    return refused(Refusal::kBadForm, "body: is missing; only a strip's may come later", chain);
  }
  const auto leaf =
      insert(*chain, {sent.entry, header, sent.body_state, sent.salt, sent.body}, now_us);
  if (!leaf) return std::unexpected(leaf.error());
  return accepted(Outcome::kStored, *leaf, sent.entry, *chain);
}

Result<AppendResult> Store::again(Chain& chain, const EntryHeader& header, const SentEntry& sent) {
  auto& stored = statements_->leaf_at.start().bind(chain.row).bind(header.seq);
  const auto row = stored.step();
  if (!row) return std::unexpected(row.error());
  if (!*row)
    return fail(Code::kCorrupt, "ledger: an acknowledged entry is gone; restore a good copy");
  const uint64_t leaf = stored.count(0);
  const auto kept = stored.array<record::kEntrySize>(1, "leaf.entry");
  if (!kept) return std::unexpected(kept.error());
  stored.start();
  if (*kept != sent.entry) {
    // Only the holder of the key can make a fork; anything else is noise.
    if (!record::verify_entry(sent.entry, chain.mark.key)) {
      return refused(Refusal::kBadSignature,
                     "signature: is not of the enrolled key; enrol the new key", &chain);
    }
    auto result =
        refused(Refusal::kFork,
                fmt::format("seq {}: another entry holds this number; stop sending and let a "
                            "person decide",
                            header.seq),
                &chain);
    result.leaf = leaf;
    result.kept = *kept;
    return result;
  }
  if (sent.body_state == BodyState::kHere && chain.waiting.contains(header.seq)) {
    return append_body(header.device_id, header.epoch, header.seq, sent.salt, sent.body);
  }
  return accepted(Outcome::kDuplicate, leaf, sent.entry, chain);
}

Result<AppendResult> Store::append_body(const Id16& device_id, uint32_t epoch, uint64_t seq,
                                        const Salt& salt, std::string_view body) {
  Chain* chain = epoch == 0 ? chains_.latest(device_id) : chains_.find(device_id, epoch);
  if (chain == nullptr || seq == 0 || seq > chain->mark.seq) {
    return refused(Refusal::kOutOfOrder,
                   fmt::format("body {}: its entry is not here; send it first", seq), chain);
  }
  auto& stored = statements_->leaf_at.start().bind(chain->row).bind(seq);
  const auto row = stored.step();
  if (!row) return std::unexpected(row.error());
  if (!*row)
    return fail(Code::kCorrupt, "ledger: an acknowledged entry is gone; restore a good copy");
  const uint64_t leaf = stored.count(0);
  const auto entry = stored.array<record::kEntrySize>(1, "leaf.entry");
  if (!entry) return std::unexpected(entry.error());
  stored.start();
  const auto header = record::decode_header(*entry);
  if (!header) return fail(Code::kCorrupt, header.error().message);
  if (!record::body_matches(*header, salt, body)) {
    return refused(Refusal::kBodyMismatch, "body: is not the one signed for; send it unchanged",
                   chain);
  }
  if (!chain->waiting.contains(seq)) return accepted(Outcome::kDuplicate, leaf, *entry, *chain);
  if (const auto put = insert_body(leaf, salt, body); !put) return std::unexpected(put.error());
  if (const auto came = statements_->body_came.start().bind(leaf + 1).run(); !came) {
    return std::unexpected(came.error());
  }
  chain->waiting.erase(seq);
  chain->settle_bodies();
  return accepted(Outcome::kStored, leaf, *entry, *chain);
}

Status Store::replay(const StoredEntry& stored) {
  const auto damaged = [](std::string words) { return fail(Code::kCorrupt, std::move(words)); };
  if (stored.leaf != next_leaf_) return damaged(fmt::format("leaf {} is missing", next_leaf_));
  const auto header = record::decode_header(stored.entry);
  if (!header) return damaged(header.error().message);
  Chain* chain = chains_.find(header->device_id, header->epoch);
  if (chain == nullptr) {
    return damaged(fmt::format("no entry before it enrols device {}, epoch {}",
                               hex_of(header->device_id), header->epoch));
  }
  if (const auto wrong = place(*chain, *header); wrong.refusal != Refusal::kNone)
    return damaged(wrong.words);
  if (!record::verify_entry(stored.entry, chain->mark.key))
    return damaged("its signature does not verify");
  const bool here = stored.body_state == BodyState::kHere;
  if (here && !record::body_matches(*header, stored.salt, stored.body))
    return damaged("its body is not the one signed for");
  OwnEffect effect;
  if (here && record::is_base_kind(header->kind)) {
    auto found = own_effect(header->kind, stored.body, chains_);
    if (!found) return damaged(found.error().message);
    effect = std::move(*found);
  }
  const auto leaf = insert(
      *chain, {stored.entry, *header, stored.body_state, stored.salt, stored.body}, stored.recv_us);
  if (!leaf) return std::unexpected(leaf.error());
  return apply(effect, stored.entry, *leaf, stored.recv_us);
}

Result<AppendResult> Store::append_own(const OwnEntry& own, int64_t now_us) {
  Chain* chain = chains_.latest(own.header.device_id);
  if (chain == nullptr) {
    return refused(Refusal::kUnknownDevice, "chain: none of this device; start it first");
  }
  if (own.key == nullptr || own.key->public_key() != chain->mark.key) {
    return refused(Refusal::kBadSignature, "key: is not the chain's; sign with the enrolled key",
                   chain);
  }
  EntryHeader header = own.header;
  if (is_zero(header.ledger_id)) header.ledger_id = ledger_id_;
  header.epoch = chain->mark.epoch;
  header.seq = chain->mark.seq + 1;
  header.prev = chain->tip();
  const Salt salt = random_array<16>();
  if (const auto bound = record::bind_body(header, salt, own.body); !bound) {
    return refused(Refusal::kBadForm, bound.error().message, chain);
  }
  const EntryBytes entry = record::sign_entry(header, *own.key);
  // What could not be read back must not be written.
  const auto readable = record::decode_header(entry);
  if (!readable) return refused(Refusal::kBadForm, readable.error().message, chain);
  const auto effect = own_effect(header.kind, own.body, chains_);
  if (!effect) return refused(Refusal::kBadForm, effect.error().message, chain);
  const auto leaf = insert(*chain, {entry, *readable, BodyState::kHere, salt, own.body}, now_us);
  if (!leaf) return std::unexpected(leaf.error());
  if (const auto applied = apply(*effect, entry, *leaf, now_us); !applied) {
    return std::unexpected(applied.error());
  }
  return accepted(Outcome::kStored, *leaf, entry, *chain);
}

}  // namespace fairlead::ledger
