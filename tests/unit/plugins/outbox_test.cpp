// The plugin's buffer: bounded, no loss without a mark, numbers without a hole, everything unacked
// sent once more (the contract of proto/fairlead/v1/plugin_service.proto).
#include "plugins/sdk/outbox.h"

#include <gtest/gtest.h>

#include <random>

namespace fairlead::sdk {
namespace {

v1::PluginReading reading(uint32_t channel, double value) {
  v1::PluginReading r;
  r.set_channel(channel);
  r.set_wall_us(static_cast<int64_t>(value));
  r.set_value(value);
  return r;
}

TEST(OutboxTest, BatchesAreNumberedWithoutAHole) {
  Outbox box(1000);
  for (int i = 0; i < 130; ++i) box.add(reading(0, i));
  const auto* first = box.next(false);
  ASSERT_NE(first, nullptr);
  EXPECT_EQ(first->batch_seq(), 1U);
  EXPECT_EQ(first->readings_size(), 64);
  EXPECT_EQ(box.next(false)->batch_seq(), 2U);
  EXPECT_EQ(box.next(false), nullptr) << "two readings wait for company";
  const auto* third = box.next(true);
  EXPECT_EQ(third->batch_seq(), 3U);
  EXPECT_EQ(third->readings_size(), 2);
  EXPECT_EQ(box.next(true), nullptr);
  EXPECT_EQ(box.size(), 130U) << "kept until acked";
  box.ack(3);
  EXPECT_TRUE(box.drained());
}

TEST(OutboxTest, ItKnowsWhenEverythingUntilNowIsSent) {
  Outbox box(1000);
  EXPECT_TRUE(box.sent(box.close())) << "nothing was read";
  for (int i = 0; i < 70; ++i) box.add(reading(0, i));
  const uint64_t until_now = box.close();
  EXPECT_EQ(until_now, 2U);
  box.add(reading(0, 70));
  EXPECT_FALSE(box.sent(until_now));
  (void)box.next(false);
  EXPECT_FALSE(box.sent(until_now));
  (void)box.next(false);
  EXPECT_TRUE(box.sent(until_now)) << "what came later does not count";
  box.rewind(1);
  EXPECT_FALSE(box.sent(until_now)) << "a new stream";
  box.ack(2);
  EXPECT_TRUE(box.sent(until_now));
}

TEST(OutboxTest, WhatWasNotAckedIsSentOnceMoreUnderItsNumber) {
  Outbox box(1000);
  for (int i = 0; i < 3; ++i) {
    box.add(reading(0, i));
    (void)box.next(true);
  }
  box.ack(1);
  box.rewind(1);
  EXPECT_EQ(box.next(true)->batch_seq(), 2U);
  EXPECT_EQ(box.next(true)->batch_seq(), 3U);
  EXPECT_EQ(box.next(true), nullptr);
  // The daemon took 2 before the stream broke, but its ack was lost.
  box.rewind(2);
  const auto* again = box.next(true);
  EXPECT_EQ(again->batch_seq(), 3U);
  EXPECT_EQ(again->readings(0).value(), 2);
}

TEST(OutboxTest, FullCountsAndMarksTheLossInPlace) {
  Outbox box(10);
  for (int i = 0; i < 25; ++i) box.add(reading(i % 2 == 0 ? 0 : 1, i));
  EXPECT_TRUE(box.full());
  EXPECT_EQ(box.lost_in_all(), 15U);
  EXPECT_EQ(box.next(true)->readings_size(), 10);
  EXPECT_EQ(box.next(true), nullptr) << "no room, no mark yet";
  box.ack(1);
  box.add(reading(0, 100));
  const auto* after = box.next(true);
  ASSERT_EQ(after->readings_size(), 3);
  EXPECT_EQ(after->readings(0).gap().lost(), 8U);
  EXPECT_EQ(after->readings(0).wall_us(), 10) << "dated at the first loss";
  EXPECT_EQ(after->readings(1).gap().lost(), 7U);
  EXPECT_EQ(after->readings(1).channel(), 1U);
  EXPECT_EQ(after->readings(2).value(), 100);
}

TEST(OutboxTest, TheLossIsMarkedEvenWhenNothingMoreComes) {
  Outbox box(1);
  box.add(reading(0, 0));
  box.add(reading(0, 1));
  ASSERT_NE(box.next(true), nullptr);
  box.ack(1);
  EXPECT_FALSE(box.drained());
  const auto* mark = box.next(true);
  ASSERT_NE(mark, nullptr);
  EXPECT_EQ(mark->readings(0).gap().lost(), 1U);
}

TEST(OutboxTest, AnAckForWhatWasNeverSentIsIgnored) {
  Outbox box(10);
  box.add(reading(0, 0));
  box.ack(99);
  EXPECT_EQ(box.size(), 1U);
  EXPECT_EQ(box.next(true)->batch_seq(), 1U);
}

// Random order of adds, sends, acks, reconnects: read + marked lost = added, in order.
TEST(OutboxTest, NothingIsLostUnseenWhateverHappens) {
  for (uint64_t seed = 1; seed <= 50; ++seed) {
    std::mt19937_64 random(seed);
    Outbox box(100);
    uint64_t added = 0, acked = 0, received = 0, readings = 0, lost = 0;
    double last = -1;
    auto receive = [&](const v1::PluginBatch& batch) {
      if (batch.batch_seq() <= received) return;
      ASSERT_EQ(batch.batch_seq(), received + 1);
      received = batch.batch_seq();
      for (const auto& r : batch.readings()) {
        if (r.has_gap()) {
          lost += r.gap().lost();
          continue;
        }
        ASSERT_GT(r.value(), last);
        last = r.value();
        ++readings;
      }
    };
    for (int step = 0; step < 3000; ++step) {
      switch (random() % 8) {
        case 0:
        case 1:
        case 2:
        case 3:
          box.add(reading(0, static_cast<double>(added++)));
          break;
        case 4:
        case 5:
          if (const auto* batch = box.next(random() % 2 == 0)) receive(*batch);
          break;
        case 6:
          if (random() % 4 == 0) box.ack(acked = received);
          break;
        case 7:
          if (random() % 16 == 0) box.rewind(acked);
          break;
      }
      ASSERT_LE(box.size(), 102U) << "bounded, seed " << seed;
    }
    for (int i = 0; i < 200; ++i) {
      while (const auto* batch = box.next(true)) receive(*batch);
      box.ack(received);
    }
    EXPECT_TRUE(box.drained());
    EXPECT_EQ(readings + lost, added) << "seed " << seed;
  }
}

}  // namespace
}  // namespace fairlead::sdk
