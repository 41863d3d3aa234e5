#include "daemon/uplink/uplink_state.h"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/uplink/recovery.h"

namespace fairlead::uplink {

Result<v1::Shipment> UplinkState::greet() {
  auto hello = store_.hello();
  if (!hello) return std::unexpected(hello.error());
  const auto head = store_.seen_head();
  if (!head) return std::unexpected(head.error());
  const auto orders = store_.orders_from_leaf();
  if (!orders) return std::unexpected(orders.error());
  resumed_ = false;
  const auto id = array_of<16>(hello->device_id(), "device id");
  if (!id) return std::unexpected(id.error());
  device_id_ = *id;
  hello->set_seen_size(head->size);
  if (head->size > 0) hello->set_seen_root(string_of(head->root));
  hello->set_orders_from_leaf(*orders);
  v1::Shipment shipment;
  *shipment.mutable_hello() = std::move(*hello);
  return shipment;
}

Status UplinkState::take(const v1::Reply& reply) {
  if (reply.has_probe()) {
    probed_ = reply.probe().nonce();
    return {};
  }
  if (!resumed_ && !reply.has_resume() && !reply.has_refusal()) {
    return fail(Code::kBadInput, "the base answered before it said where to resume; connect again");
  }
  switch (reply.kind_case()) {
    case v1::Reply::kResume:
      return take_resume(reply.resume());
    case v1::Reply::kAck:
      return take_ack(reply.ack());
    case v1::Reply::kReceipt:
      return take_receipt(reply.receipt());
    case v1::Reply::kRefusal:
      return take_refusal(reply.refusal());
    case v1::Reply::kOrders:
      return take_orders(reply.orders());
    case v1::Reply::kHead:
      return take_news(reply.head());
    case v1::Reply::kRestored:
      return take_restored(reply.restored());
    case v1::Reply::kReturned:
      return take_returned(reply.returned());
    case v1::Reply::kProbe:
    case v1::Reply::KIND_NOT_SET:
      break;
  }
  return fail(Code::kBadInput,
              "the base sent a reply of a kind this truck does not know; update the truck");
}

Status UplinkState::take_ack(const v1::Ack& ack) {
  if (ack.epoch() != epoch_ || ack.seq() < acked_seq_ || ack.seq() > sent_seq_) {
    return fail(Code::kBadInput,
                fmt::format("the base acknowledged {} of epoch {}, but {} to {} of epoch {} "
                            "were under way; connect again",
                            ack.seq(), ack.epoch(), acked_seq_, sent_seq_, epoch_));
  }
  older_body_under_way_ = false;
  const auto chain = ack.seq() > 0 ? chain_at(store_, epoch_, ack.seq()) : Result<Hash>(genesis_);
  if (!chain) return std::unexpected(chain.error());
  if (ack.chain() != view_of(*chain)) {
    return fail(Code::kConflict,
                fmt::format("the base's record and this truck's differ at {}", ack.seq()));
  }
  if (auto ok = store_.keep_ack(ack); !ok) return ok;
  acked_seq_ = ack.seq();
  const auto settle = [this](std::deque<UnderWay>& sent, uint64_t upto) {
    while (!sent.empty() && sent.front().seq <= upto) {
      bytes_under_way_ -= sent.front().bytes;
      sent.pop_front();
    }
  };
  settle(under_way_, ack.seq());
  settle(bodies_under_way_, ack.body_seq());
  return {};
}

Status UplinkState::take_refusal(const v1::Refusal& refusal) {
  streaming_ = false;
  retry_after_ms_ = refusal.retry_after_ms();
  if (refusal.fork_leaf() > 0) {
    if (auto ok = store_.mark_copy(refusal.fork_leaf()); !ok) return ok;
  }
  const bool person = refusal.reason() == v1::Refusal::REASON_FORK ||
                      refusal.reason() == v1::Refusal::REASON_SUSPENDED ||
                      refusal.reason() == v1::Refusal::REASON_UNKNOWN_KEY;
  return fail(
      person ? Code::kConflict : Code::kUnavailable,
      fmt::format("the base refused: {} (it expects {})", refusal.words(), refusal.expected_seq()));
}

Result<std::optional<v1::Shipment>> UplinkState::next() {
  if (!probed_.empty()) {
    v1::Shipment shipment;
    shipment.mutable_probe_answer()->set_nonce(std::exchange(probed_, {}));
    return shipment;
  }
  if (differs_) {
    v1::Shipment shipment;
    *shipment.mutable_differs() = *std::exchange(differs_, std::nullopt);
    return shipment;
  }
  if (!streaming_) return std::nullopt;
  if (held_orders_to_say_) {
    const auto leaf = store_.orders_from_leaf();
    if (!leaf) return std::unexpected(leaf.error());
    held_orders_to_say_ = false;
    v1::Shipment shipment;
    shipment.mutable_orders_held()->set_orders_from_leaf(*leaf);
    return shipment;
  }
  auto batch = next_batch();
  if (!batch || batch->has_value()) return batch;
  auto body = next_body();
  if (!body || body->has_value()) return body;
  return next_older_body();
}

// A strip's body never stands before an operator's event: it is sent when no header waits.
Result<std::optional<v1::Shipment>> UplinkState::next_batch() {
  if (under_way_.size() >= window_entries_ || room_bytes() == 0) return std::nullopt;
  const size_t count = std::min(kBatchEntries, window_entries_ - under_way_.size());
  const auto entries = store_.entries_from(epoch_, sent_seq_ + 1, count);
  if (!entries) return std::unexpected(entries.error());
  if (entries->empty()) return std::nullopt;
  const size_t room = std::min(kBatchBytes - 64 * 1024, room_bytes());
  v1::Shipment shipment;
  size_t total = 0;
  for (const OwnEntry& own : *entries) {
    const auto header = record::decode_header(own.entry);
    if (!header) return std::unexpected(header.error());
    const bool later = header->kind == record::Kind::kStrip && !own.erased;
    const size_t bytes = own.entry.size() + (later ? 0 : own.salt.size() + own.body.size());
    if (total > 0 && total + bytes > room) break;
    v1::SentEntry& sent = *shipment.mutable_batch()->add_entry();
    sent.set_entry(string_of(own.entry));
    sent.set_erased(own.erased);
    sent.set_body_follows(later);
    if (later) {
      bodies_later_.push_back(own.seq);
    } else if (!own.erased) {
      sent.set_salt(string_of(own.salt));
      sent.set_body(own.body);
    }
    total += bytes;
    under_way_.push_back({own.seq, bytes});
    sent_seq_ = own.seq;
  }
  bytes_under_way_ += total;
  return shipment;
}

Result<std::optional<v1::Shipment>> UplinkState::next_body() {
  if (bodies_later_.empty() || room_bytes() == 0) return std::nullopt;
  const uint64_t seq = bodies_later_.front();
  auto entries = store_.entries_from(epoch_, seq, 1);
  if (!entries) return std::unexpected(entries.error());
  if (entries->size() != 1) return fail(Code::kCorrupt, fmt::format("own entry {} is gone", seq));
  OwnEntry& own = entries->front();
  bodies_later_.pop_front();
  if (own.erased) return next_body();
  v1::Shipment shipment;
  v1::BodyLater& later = *shipment.mutable_body_later();
  later.set_seq(seq);
  later.set_salt(string_of(own.salt));
  later.set_body(std::move(own.body));
  const size_t bytes = later.salt().size() + later.body().size();
  bodies_under_way_.push_back({seq, bytes});
  bytes_under_way_ += bytes;
  return shipment;
}

// Outside the window's count: an ack says nothing about bodies of earlier epochs.
Result<std::optional<v1::Shipment>> UplinkState::next_older_body() {
  while (!older_bodies_.empty() && !older_body_under_way_) {
    const v1::Place place = older_bodies_.front();
    older_bodies_.pop_front();
    auto entries = store_.entries_from(place.epoch(), place.seq(), 1);
    if (!entries) return std::unexpected(entries.error());
    if (entries->empty() || entries->front().seq != place.seq() || entries->front().erased)
      continue;
    OwnEntry& own = entries->front();
    v1::Shipment shipment;
    v1::BodyLater& later = *shipment.mutable_body_later();
    later.set_epoch(place.epoch());
    later.set_seq(own.seq);
    later.set_salt(string_of(own.salt));
    later.set_body(std::move(own.body));
    older_body_under_way_ = true;
    return shipment;
  }
  return std::nullopt;
}

}  // namespace fairlead::uplink
