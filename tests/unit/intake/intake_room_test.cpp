// The base's worker with trucks in memory: acknowledgements, receipts within their second, a newer
// stream instead of a lost one, refusals on record, a queue that fills and empties. No outside
// source.
#include "daemon/intake/intake_room.h"

#include <gtest/gtest.h>

#include <condition_variable>

#include "daemon/uplink/uplink_state.h"
#include "tests/unit/uplink/memory_truck.h"
#include "tests/unit/uplink/temp_base.h"

namespace fairlead {
namespace {

using namespace std::chrono_literals;
using record::Kind;
using test::MemoryTruck;
using test::TempBase;

class Listener : public intake::Peer {
 public:
  void send(v1::Reply reply) override {
    const std::lock_guard lock(mutex_);
    replies_.push_back(std::move(reply));
    wake_.notify_all();
  }
  void read_on() override {
    const std::lock_guard lock(mutex_);
    ++read_on_;
    wake_.notify_all();
  }
  void close() override {
    const std::lock_guard lock(mutex_);
    closed_ = true;
    wake_.notify_all();
  }
  std::optional<v1::Reply> next(std::chrono::milliseconds wait = 3s) {
    std::unique_lock lock(mutex_);
    if (!wake_.wait_for(lock, wait, [this] { return !replies_.empty(); })) return std::nullopt;
    v1::Reply reply = std::move(replies_.front());
    replies_.pop_front();
    return reply;
  }
  template <typename Condition>
  bool wait(Condition condition) {
    std::unique_lock lock(mutex_);
    return wake_.wait_for(lock, 5s, [&] { return condition(*this); });
  }
  bool closed_ = false;
  int read_on_ = 0;

 private:
  std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<v1::Reply> replies_;
};

class IntakeRoom : public ::testing::Test {
 protected:
  IntakeRoom() : room_(base_.office(), base_.devices(), {}) {}

  // A truck at the door: says hello and takes what it is told.
  struct Visit {
    explicit Visit(intake::IntakeRoom& room, MemoryTruck& truck)
        : listener(std::make_shared<Listener>()), state(truck), id(room.join(listener)) {
      EXPECT_TRUE(room.push(id, state.greet().value()));
      const auto resume = listener->next();
      EXPECT_TRUE(resume && resume->has_resume());
      if (resume) {
        EXPECT_TRUE(state.take(*resume));
      }
    }
    std::shared_ptr<Listener> listener;
    uplink::UplinkState state;
    uint64_t id;
  };

  TempBase base_;
  intake::IntakeRoom room_;
};

TEST_F(IntakeRoom, AcknowledgesAfterTheCommitAndProvesItWithinASecond) {
  MemoryTruck truck("OW-04");
  Visit visit(room_, truck);
  EXPECT_TRUE(room_.connected(truck.device_id()));
  for (int i = 0; i < 5; ++i) truck.write(Kind::kObservations, "entry " + std::to_string(i));
  EXPECT_TRUE(room_.push(visit.id, **visit.state.next()));
  // News of the base's head may come first.
  std::optional<v1::Reply> ack;
  do {
    ack = visit.listener->next();
    ASSERT_TRUE(ack);
    if (!ack->has_ack()) {
      ASSERT_TRUE(visit.state.take(*ack));
    }
  } while (!ack->has_ack());
  EXPECT_EQ(ack->ack().seq(), 5U);
  EXPECT_EQ(base_.of_device(truck.device_id()).size(), 5U);
  ASSERT_TRUE(visit.state.take(*ack));
  const auto begun = std::chrono::steady_clock::now();
  while (visit.state.receipted_seq() < 5) {
    const auto reply = visit.listener->next();
    ASSERT_TRUE(reply) << "no receipt came";
    ASSERT_TRUE(visit.state.take(*reply));
  }
  EXPECT_LT(std::chrono::steady_clock::now() - begun, 1'500ms);
}

TEST_F(IntakeRoom, ANewerStreamTakesTheOldOnesPlace) {
  MemoryTruck truck("OW-04");
  Visit first(room_, truck);
  Visit second(room_, truck);
  EXPECT_TRUE(first.listener->wait([](const Listener& l) { return l.closed_; }));
  v1::Shipment late;
  late.mutable_orders_held();
  EXPECT_FALSE(room_.push(first.id, late));
  room_.leave(first.id);
  EXPECT_TRUE(room_.connected(truck.device_id()));
  room_.leave(second.id);
  EXPECT_FALSE(room_.connected(truck.device_id()));
}

TEST_F(IntakeRoom, AnOrderReachesAConnectedTruckAtOnce) {
  MemoryTruck truck("OW-04");
  Visit visit(room_, truck);
  base_.order("sheet");
  room_.notify_orders();
  for (;;) {
    const auto reply = visit.listener->next();
    ASSERT_TRUE(reply) << "the order did not come";
    ASSERT_TRUE(visit.state.take(*reply));
    if (reply->has_orders()) break;
  }
  EXPECT_EQ(truck.orders().size(), 1U);
}

// Three refusals in one hour and one in the next: two entries for the first hour, counts 1 and 2.
TEST(RefusalTally, CountsEveryRefusalOfAnHour) {
  std::vector<v1::RefusedBody> written;
  intake::RefusalTally tally([&](const v1::RefusedBody& body) { written.push_back(body); });
  constexpr int64_t kHourUs = 3'600'000'000;
  const auto refuse = [&](const char* reason, uint64_t seq, int64_t at_us) {
    v1::RefusedBody body;
    body.set_device_id("truck");
    body.set_reason(reason);
    body.set_first_seq(seq);
    tally.add(body, at_us);
  };
  refuse("A", 7, 10 * kHourUs);
  EXPECT_EQ(written.size(), 1U) << "the first at once";
  refuse("A", 8, 10 * kHourUs + 1);
  refuse("A", 9, 11 * kHourUs - 1);
  refuse("B", 1, 10 * kHourUs + 5);
  EXPECT_EQ(written.size(), 2U) << "another reason has its own entry";
  refuse("A", 10, 11 * kHourUs);
  ASSERT_EQ(written.size(), 4U);
  EXPECT_EQ(written[2].count(), 2U);
  EXPECT_EQ(written[2].first_seq(), 8U);
  EXPECT_EQ(written[2].hour_us(), 10 * kHourUs);
  EXPECT_EQ(written[3].count(), 1U);
  EXPECT_EQ(written[3].hour_us(), 11 * kHourUs);
  refuse("A", 11, 11 * kHourUs + 2);
  tally.close_all();
  ASSERT_EQ(written.size(), 5U);
  EXPECT_EQ(written[4].count(), 1U);
  tally.close_all();
  EXPECT_EQ(written.size(), 5U) << "nothing twice";
}

TEST_F(IntakeRoom, ARefusalEndsTheStreamAndIsOnRecordOnceAnHour) {
  MemoryTruck truck("OW-04");
  for (int turn = 0; turn < 2; ++turn) {
    Visit visit(room_, truck);
    if (turn == 0) truck.write(Kind::kObservations, "entry");
    v1::Shipment shipment = **visit.state.next();
    (*shipment.mutable_batch()->mutable_entry(0)->mutable_entry())[100] ^= 1;
    (void)room_.push(visit.id, shipment);
    std::optional<v1::Reply> reply;
    do {
      reply = visit.listener->next();
      ASSERT_TRUE(reply);
    } while (!reply->has_refusal());
    EXPECT_EQ(reply->refusal().reason(), v1::Refusal::REASON_BAD_SIGNATURE);
    EXPECT_EQ(reply->refusal().expected_seq(), 1U);
    EXPECT_TRUE(visit.listener->wait([](const Listener& l) { return l.closed_; }));
    room_.leave(visit.id);
  }
  std::this_thread::sleep_for(200ms);
  const auto refused = base_.ledger().entries_of_kind(Kind::kRefused, 0, 10);
  ASSERT_TRUE(refused);
  ASSERT_EQ(refused->size(), 1U);
  v1::RefusedBody body;
  ASSERT_TRUE(body.ParseFromString(refused->front().body));
  EXPECT_EQ(body.device_id(), view_of(truck.device_id()));
  EXPECT_TRUE(base_.of_device(truck.device_id()).empty());
}

TEST_F(IntakeRoom, TwoRecordsOfOneTruckSuspendItWithBothEntriesKept) {
  MemoryTruck truck("OW-04");
  {
    Visit visit(room_, truck);
    truck.write(Kind::kObservations, "one");
    (void)room_.push(visit.id, **visit.state.next());
    // News of the base's head may come first; only the ack says that the entry is kept.
    std::optional<v1::Reply> ack;
    do {
      ack = visit.listener->next();
      ASSERT_TRUE(ack);
    } while (!ack->has_ack());
    room_.leave(visit.id);
  }
  const auto kept = truck.own()[0].entry;
  Visit visit(room_, truck);
  truck.restore(0);
  truck.write(Kind::kObservations, "another one");
  v1::Shipment shipment;
  v1::SentEntry& sent = *shipment.mutable_batch()->add_entry();
  sent.set_entry(string_of(truck.own()[0].entry));
  sent.set_salt(string_of(truck.own()[0].salt));
  sent.set_body(truck.own()[0].body);
  (void)room_.push(visit.id, shipment);
  ASSERT_TRUE(visit.listener->wait([](const Listener& l) { return l.closed_; }));
  std::this_thread::sleep_for(200ms);
  const auto forks = base_.ledger().entries_of_kind(Kind::kFork, 0, 10);
  ASSERT_TRUE(forks);
  ASSERT_EQ(forks->size(), 1U);
  v1::ForkBody body;
  ASSERT_TRUE(body.ParseFromString(forks->front().body));
  EXPECT_EQ(body.kept_entry(), view_of(kept));
  EXPECT_EQ(body.other_entry(), view_of(truck.own()[0].entry));
  EXPECT_TRUE(base_.devices().find(truck.device_id())->suspended);
}

// The next reply that is a probe; news of heads may come before it.
std::optional<v1::Reply> next_probe(Listener& listener) {
  for (;;) {
    auto reply = listener.next(1s);
    if (!reply || reply->has_probe()) return reply;
  }
}

TEST_F(IntakeRoom, TwoRunsOfOneTruckThatBothAnswerAreTwoCopies) {
  MemoryTruck truck("OW-04");
  Visit first(room_, truck);
  MemoryTruck copy = truck;
  copy.start_anew();
  Visit second(room_, copy);
  const auto probe = next_probe(*first.listener);
  ASSERT_TRUE(probe) << "the older stream must be asked whether it lives";
  ASSERT_TRUE(first.state.take(*probe));
  (void)room_.push(first.id, **first.state.next());
  EXPECT_TRUE(first.listener->wait([](const Listener& l) { return l.closed_; }));
  EXPECT_TRUE(second.listener->wait([](const Listener& l) { return l.closed_; }));
  EXPECT_TRUE(base_.devices().find(truck.device_id())->suspended);
  ASSERT_EQ(base_.ledger().entries_of_kind(Kind::kFork, 0, 10)->size(), 1U);
}

TEST_F(IntakeRoom, AnEarlierRunThatCallsAgainAndAnswersIsACopy) {
  MemoryTruck truck("OW-04");
  MemoryTruck copy = truck;
  {
    Visit first(room_, truck);
    room_.leave(first.id);
  }
  copy = truck;
  copy.start_anew();
  {
    Visit second(room_, copy);
    room_.leave(second.id);
  }
  const auto listener = std::make_shared<Listener>();
  uplink::UplinkState state(truck);
  const uint64_t id = room_.join(listener);
  EXPECT_TRUE(room_.push(id, state.greet().value()));
  const auto probe = next_probe(*listener);
  ASSERT_TRUE(probe);
  ASSERT_TRUE(state.take(*probe));
  (void)room_.push(id, **state.next());
  EXPECT_TRUE(listener->wait([](const Listener& l) { return l.closed_; }));
  EXPECT_TRUE(base_.devices().find(truck.device_id())->suspended);
}

TEST_F(IntakeRoom, ATruckStartedAnewWhoseOldStreamIsDeadIsNoCopy) {
  MemoryTruck truck("OW-04");
  Visit first(room_, truck);
  truck.start_anew();
  Visit second(room_, truck);
  ASSERT_TRUE(next_probe(*first.listener)) << "nobody is there to answer";
  truck.write(Kind::kObservations, "entry");
  EXPECT_TRUE(room_.push(second.id, **second.state.next()));
  std::optional<v1::Reply> ack;
  do {
    ack = second.listener->next();
    ASSERT_TRUE(ack);
  } while (!ack->has_ack());
  room_.leave(first.id);
  truck.start_anew();
  Visit third(room_, truck);
  EXPECT_EQ(third.state.acked_seq(), 1U);
  EXPECT_FALSE(base_.devices().find(truck.device_id())->suspended);
}

TEST_F(IntakeRoom, AFullQueueIsReadOnWhenItHasEmptied) {
  MemoryTruck truck("OW-04");
  Visit visit(room_, truck);
  for (int i = 0; i < 600; ++i) truck.write(Kind::kObservations, "entry " + std::to_string(i));
  bool held_back = false;
  for (int i = 0; i < 600 && !held_back; ++i) {
    v1::Shipment shipment;
    const auto& own = truck.own()[static_cast<size_t>(i)];
    v1::SentEntry& sent = *shipment.mutable_batch()->add_entry();
    sent.set_entry(string_of(own.entry));
    sent.set_salt(string_of(own.salt));
    sent.set_body(own.body);
    held_back = !room_.push(visit.id, shipment);
  }
  EXPECT_TRUE(held_back) << "one shipment at a time is under way, so a burst must be held back";
  EXPECT_TRUE(visit.listener->wait([](const Listener& l) { return l.read_on_ == 1; }));
}

}  // namespace
}  // namespace fairlead
