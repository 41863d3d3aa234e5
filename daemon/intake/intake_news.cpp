// The half of IntakeState that goes down to the truck unasked: receipts, heads, orders.
#include <algorithm>

#include "daemon/intake/intake_state.h"

namespace fairlead::intake {

std::optional<v1::Reply> IntakeState::receipt(const ledger::SignedHead& head) {
  if (!device_ || mark_.seq == 0 || mark_.seq <= receipted_seq_ || head.size <= mark_.leaf)
    return std::nullopt;
  const auto stored = ledger_.entry(mark_.leaf);
  const auto path = ledger_.inclusion(mark_.leaf, head.size);
  if (!stored || !path) return std::nullopt;
  v1::Reply reply;
  v1::Receipt& receipt = *reply.mutable_receipt();
  receipt.set_epoch(mark_.epoch);
  receipt.set_seq(mark_.seq);
  receipt.set_leaf_index(mark_.leaf);
  receipt.set_recv_us(stored->recv_us);
  receipt.set_checkpoint(head.note);
  for (const Hash& hash : *path) receipt.add_path(string_of(hash));
  receipted_seq_ = mark_.seq;
  return reply;
}

std::optional<v1::Reply> IntakeState::head_news(const ledger::SignedHead& head) {
  if (!device_ || head.size == 0 || head.size < told_size_) return std::nullopt;
  v1::Reply reply;
  v1::Head& news = *reply.mutable_head();
  news.set_checkpoint(head.note);
  if (told_size_ > 0) {
    const auto proof = ledger_.consistency(told_size_, head.size);
    if (!proof) return std::nullopt;
    for (const Hash& hash : *proof) news.add_consistency(string_of(hash));
  }
  told_size_ = head.size;
  return reply;
}

void IntakeState::add_cosigned(const watch::CosignedHeads& cosigned, const ledger::SignedHead& head,
                               v1::Reply& news) {
  const auto newest = cosigned.newest();
  if (!newest || newest->size <= told_cosigned_ || newest->size > head.size) return;
  const auto note = watch::CosignedHeads::note_of(ledger_, *newest);
  const auto proof = ledger_.consistency(newest->size, head.size);
  if (!note || !proof) return;
  news.mutable_head()->set_cosigned(*note);
  for (const Hash& hash : *proof) news.mutable_head()->add_cosigned_consistency(string_of(hash));
  told_cosigned_ = newest->size;
}

Result<v1::Orders> IntakeState::orders() {
  constexpr size_t kMost = 256;
  constexpr size_t kMostBytes = size_t{1} << 20;
  v1::Orders orders;
  // Of a truck that is revoked what it sends is still put on record; it learns nothing any more.
  if (const auto known = devices_.find(device_->id); !known || known->last_trusted) return orders;
  // Those of a key given up no truck takes; what still holds of them was written again.
  const auto& admins = devices_.office().roster().admins;
  const auto in_force = [&](const record::Id16& id) {
    return std::ranges::any_of(
        admins, [&](const record::RosterKey& admin) { return admin.device_id == id; });
  };
  for (;;) {
    const auto stored = ledger_.entries_of_kind(record::Kind::kOrder, orders_from_, kMost);
    if (!stored) return std::unexpected(stored.error());
    for (const auto& entry : *stored) {
      v1::OrderBody body;
      if (orders.ByteSizeLong() + entry.body.size() > kMostBytes && orders.order_size() > 0) break;
      orders_from_ = entry.leaf + 1;
      if (entry.body_state != ledger::BodyState::kHere || !body.ParseFromString(entry.body))
        continue;
      if (!in_force(entry.header().device_id)) continue;
      if (!body.device_id().empty() && body.device_id() != view_of(device_->id)) continue;
      v1::SignedOrder& order = *orders.add_order();
      order.set_leaf_index(entry.leaf);
      order.set_entry(string_of(entry.entry));
      order.set_salt(string_of(entry.salt));
      order.set_body(entry.body);
    }
    // A page on which nothing is for this truck is not the end.
    if (orders.order_size() > 0 || stored->size() < kMost) return orders;
  }
}

}  // namespace fairlead::intake
