// A truck in memory and a base on disk with the real protocol of both between them: one connection,
// its messages in two queues that a test can hold, lose, repeat or turn round.
#pragma once

#include <deque>
#include <future>
#include <string>

#include "daemon/uplink/uplink_state.h"
#include "tests/unit/uplink/memory_truck.h"
#include "tests/unit/uplink/temp_base.h"

namespace fairlead::test {

// One connection: messages in flight either way, until it is dropped.
class MemoryLink {
 public:
  MemoryLink(uplink::UplinkStore& truck, TempBase& base, bool enrols = true)
      : base_(base), up_(truck), down_(base.ledger(), base.devices(), enrols) {
    auto hello = up_.greet();
    EXPECT_TRUE(hello) << hello.error().message;
    to_base_.push_back(*hello);
  }

  Status truck_reads() {
    if (to_truck_.empty()) return {};
    const v1::Reply reply = to_truck_.front();
    to_truck_.pop_front();
    return up_.take(reply);
  }
  void truck_sends() {
    auto shipment = up_.next();
    ASSERT_TRUE(shipment) << shipment.error().message;
    if (*shipment) to_base_.push_back(**shipment);
    most_entries_ = std::max(most_entries_, up_.entries_under_way());
    most_bytes_ = std::max(most_bytes_, up_.bytes_under_way());
  }
  void base_works() {
    if (to_base_.empty()) return;
    const v1::Shipment shipment = to_base_.front();
    to_base_.pop_front();
    answer(down_.take(shipment));
    if (last_step_.fork) {
      EXPECT_TRUE(base_.devices().fork(*last_step_.fork));
    }
    if (last_step_.refusal && last_step_.append.empty()) return;
    if (!last_step_.append.empty()) {
      auto batch = last_step_.append;
      std::promise<Result<std::vector<ledger::AppendResult>>> done;
      base_.ledger().append(
          std::move(batch), [&](auto result) { done.set_value(std::move(result)); },
          /*urgent=*/true);
      answer(down_.appended(done.get_future().get()));
      if (last_step_.fork) {
        EXPECT_TRUE(base_.devices().fork(*last_step_.fork));
      }
      if (const auto head = base_.ledger().sign_head()) {
        if (auto receipt = down_.receipt(*head)) to_truck_.push_back(*receipt);
        if (auto news = down_.head_news(*head)) to_truck_.push_back(*news);
      }
    } else if (last_step_.body) {
      std::promise<Result<std::vector<ledger::AppendResult>>> done;
      base_.ledger().append_body(down_.device().id, last_step_.body->epoch, last_step_.body->seq,
                                 last_step_.body->salt, last_step_.body->body,
                                 [&](auto result) { done.set_value(std::move(result)); });
      // Whoever waits for a head does not wait until the ledger has gathered more bodies.
      (void)base_.ledger().sign_head();
      answer(down_.body_appended(done.get_future().get()));
    }
  }
  [[nodiscard]] bool idle() const { return to_base_.empty() && to_truck_.empty(); }
  [[nodiscard]] Status run(int turns = 10'000) {
    for (int i = 0; i < turns; ++i) {
      if (auto ok = truck_reads(); !ok) return ok;
      truck_sends();
      base_works();
      if (idle() && i > 2) return {};
    }
    return fail(Code::kInternal, "never came to rest");
  }

  void answer(intake::Step step) {
    for (const v1::Reply& reply : step.replies) to_truck_.push_back(reply);
    if (step.orders_from_leaf) {
      const auto orders = down_.orders();
      ASSERT_TRUE(orders);
      if (orders->order_size() > 0) *to_truck_.emplace_back().mutable_orders() = *orders;
    }
    if (step.refusal) *to_truck_.emplace_back().mutable_refusal() = *step.refusal;
    last_step_ = std::move(step);
  }

  TempBase& base_;
  uplink::UplinkState up_;
  intake::IntakeState down_;
  std::deque<v1::Shipment> to_base_;
  std::deque<v1::Reply> to_truck_;
  intake::Step last_step_;
  size_t most_entries_ = 0, most_bytes_ = 0;
};

inline record::Kind kind_of(int i) {
  return i % 5 == 3 ? record::Kind::kStrip : record::Kind::kObservations;
}

inline void fill(MemoryTruck& truck, int count) {
  for (int i = 0; i < count; ++i) {
    const auto n = static_cast<int>(truck.size());
    truck.write(kind_of(n),
                "body " + std::to_string(n) + std::string(static_cast<size_t>(n % 37) * 40, 'x'));
  }
}

inline void expect_all_there_once(const MemoryTruck& truck, TempBase& base) {
  const auto stored = base.of_device(truck.device_id());
  ASSERT_EQ(stored.size(), truck.size());
  for (size_t i = 0; i < stored.size(); ++i) {
    EXPECT_EQ(stored[i].entry, truck.own()[i].entry);
    EXPECT_EQ(stored[i].body_state, ledger::BodyState::kHere);
    EXPECT_EQ(stored[i].body, truck.own()[i].body);
  }
}

}  // namespace fairlead::test
