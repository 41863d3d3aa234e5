// Truck and base protocol against each other over a link in memory: in order, cut at any message,
// messages lost with the cut, either side restarted. Proofs and signatures are the real ones.
// The protocol is the record's own; trees and proofs follow RFC 9162 2.1.
#include <gtest/gtest.h>

#include <deque>
#include <functional>
#include <future>
#include <random>

#include "daemon/uplink/uplink_state.h"
#include "tests/unit/uplink/memory_link.h"
#include "tests/unit/uplink/temp_base.h"

namespace fairlead {
namespace {

using intake::IntakeState;
using record::Kind;
using test::MemoryTruck;
using Link = test::MemoryLink;
using test::expect_all_there_once;
using test::fill;
using test::TempBase;
using uplink::UplinkState;

TEST(StoreAndForward, FirstContactEnrolsAndThenCarriesEverything) {
  MemoryTruck truck("OW-04");
  TempBase base;
  ASSERT_TRUE(Link(truck, base).run());
  ASSERT_TRUE(truck.enrolled());
  fill(truck, 700);
  Link link(truck, base);
  const Status done = link.run();
  ASSERT_TRUE(done) << done.error().message;
  expect_all_there_once(truck, base);
  EXPECT_EQ(truck.acked(), 700U);
  EXPECT_EQ(link.up_.receipted_seq(), 700U);
  EXPECT_EQ(link.up_.bytes_under_way(), 0U);
  EXPECT_EQ(truck.head().size, base.ledger().size());
}

TEST(StoreAndForward, TheWindowHolds) {
  MemoryTruck truck("OW-04");
  TempBase base;
  ASSERT_TRUE(Link(truck, base).run());
  for (int i = 0; i < 3'000; ++i)
    truck.write(Kind::kObservations, std::string(i < 500 ? 20'000 : 10, 'b'));
  Link link(truck, base);
  link.base_works();
  ASSERT_TRUE(link.truck_reads());
  for (int i = 0; i < 100; ++i) link.truck_sends();
  EXPECT_LE(link.most_entries_, uplink::kWindowEntries);
  EXPECT_LE(link.most_bytes_, uplink::kWindowBytes + record::kMaxBodySize + 1'000);
  EXPECT_GT(link.most_bytes_, uplink::kWindowBytes / 2);
  for (const auto& shipment : link.to_base_) {
    EXPECT_LE(shipment.batch().entry_size(), intake::kBatchEntries);
    EXPECT_LE(shipment.batch().ByteSizeLong(), intake::kBatchBytes);
  }
  ASSERT_TRUE(link.run());
  EXPECT_EQ(link.most_entries_, uplink::kWindowEntries);
  expect_all_there_once(truck, base);
}

TEST(StoreAndForward, StripBodiesDoNotHoldUpEvents) {
  MemoryTruck truck("OW-04");
  TempBase base;
  ASSERT_TRUE(Link(truck, base).run());
  truck.write(Kind::kStrip, "samples");
  truck.write(Kind::kObservations, "event");
  Link link(truck, base);
  link.base_works();
  ASSERT_TRUE(link.truck_reads());
  link.truck_sends();
  link.truck_sends();
  ASSERT_EQ(link.to_base_.size(), 2U);
  ASSERT_EQ(link.to_base_[0].batch().entry_size(), 2);
  EXPECT_TRUE(link.to_base_[0].batch().entry(0).body_follows());
  EXPECT_EQ(link.to_base_[0].batch().entry(0).body(), "");
  EXPECT_EQ(link.to_base_[0].batch().entry(1).body(), "event");
  EXPECT_EQ(link.to_base_[1].body_later().body(), "samples");
  // The header is acknowledged before its body is there.
  link.base_works();
  EXPECT_EQ(link.to_truck_.front().ack().seq(), 2U);
  EXPECT_EQ(link.to_truck_.front().ack().body_seq(), 0U);
  ASSERT_TRUE(link.run());
  expect_all_there_once(truck, base);
}

// Cuts drop everything in flight, either way; then both sides start from what they hold.
TEST(StoreAndForward, NothingIsLostOrDoubledOverManyCuts) {
  for (unsigned seed = 1; seed <= 8; ++seed) {
    std::mt19937 random(seed);
    MemoryTruck truck("OW-04");
    TempBase base;
    ASSERT_TRUE(Link(truck, base).run());
    for (int cut = 0; cut < 5; ++cut) {
      fill(truck, static_cast<int>(random() % 200));
      Link link(truck, base);
      const auto turns = static_cast<unsigned>(random() % 40);
      for (unsigned i = 0; i < turns; ++i) {
        switch (random() % 3) {
          case 0:
            ASSERT_TRUE(link.truck_reads());
            break;
          case 1:
            link.truck_sends();
            break;
          default:
            link.base_works();
        }
      }
    }
    if (seed % 5 == 0) base.restart();
    Link last(truck, base);
    const Status done = last.run();
    ASSERT_TRUE(done) << "seed " << seed << ": " << done.error().message;
    expect_all_there_once(truck, base);
    ASSERT_EQ(truck.acked(), truck.size()) << "seed " << seed;
  }
}

TEST(StoreAndForward, ARepeatIsAcknowledgedAgain) {
  MemoryTruck truck("OW-04");
  TempBase base;
  ASSERT_TRUE(Link(truck, base).run());
  fill(truck, 3);
  Link link(truck, base);
  link.base_works();
  ASSERT_TRUE(link.truck_reads());
  link.truck_sends();
  const v1::Shipment again = link.to_base_.front();
  link.base_works();
  const uint64_t leaves = base.ledger().size();
  link.to_base_.push_front(again);
  link.base_works();
  EXPECT_EQ(base.ledger().size(), leaves);
  ASSERT_FALSE(link.last_step_.replies.empty());
  EXPECT_EQ(link.last_step_.replies.front().ack().seq(), 3U);
}

struct Broken {
  const char* name;
  v1::Refusal::Reason reason;
  std::function<void(v1::SentEntry&)> breaks;
};

TEST(StoreAndForward, WhateverIsWrongIsRefusedWithTheExpectedSeq) {
  const std::vector<Broken> cases = {
      {"short", v1::Refusal::REASON_BAD_FORM, [](auto& e) { e.mutable_entry()->pop_back(); }},
      {"magic", v1::Refusal::REASON_BAD_FORM, [](auto& e) { (*e.mutable_entry())[0] = 'X'; }},
      {"base kind", v1::Refusal::REASON_BAD_FORM, [](auto& e) { (*e.mutable_entry())[4] = 70; }},
      {"ledger", v1::Refusal::REASON_UNKNOWN_KEY, [](auto& e) { (*e.mutable_entry())[9] ^= 1; }},
      {"device", v1::Refusal::REASON_UNKNOWN_KEY, [](auto& e) { (*e.mutable_entry())[25] ^= 1; }},
      {"epoch", v1::Refusal::REASON_UNKNOWN_KEY, [](auto& e) { (*e.mutable_entry())[43] = 2; }},
      {"signed part", v1::Refusal::REASON_BAD_SIGNATURE,
       [](auto& e) { (*e.mutable_entry())[90] ^= 1; }},
      {"signature", v1::Refusal::REASON_BAD_SIGNATURE,
       [](auto& e) { (*e.mutable_entry())[287] ^= 1; }},
      {"body", v1::Refusal::REASON_BODY_MISMATCH, [](auto& e) { e.set_body("other"); }},
      {"salt", v1::Refusal::REASON_BODY_MISMATCH, [](auto& e) { (*e.mutable_salt())[0] ^= 1; }},
      {"late body", v1::Refusal::REASON_BAD_FORM, [](auto& e) { e.set_body_follows(true); }},
  };
  for (const Broken& broken : cases) {
    MemoryTruck truck("OW-04");
    TempBase base;
    ASSERT_TRUE(Link(truck, base).run());
    for (int i = 0; i < 3; ++i) truck.write(Kind::kObservations, "b" + std::to_string(i));
    Link link(truck, base);
    link.base_works();
    ASSERT_TRUE(link.truck_reads());
    link.truck_sends();
    broken.breaks(*link.to_base_.front().mutable_batch()->mutable_entry(1));
    link.base_works();
    ASSERT_TRUE(link.last_step_.refusal) << broken.name;
    EXPECT_EQ(link.last_step_.refusal->reason(), broken.reason) << broken.name;
    EXPECT_EQ(link.last_step_.refusal->expected_seq(), 2U) << broken.name;
    EXPECT_EQ(base.of_device(truck.device_id()).size(), 1U)
        << broken.name << ": the good ones before it stay";
  }
}

TEST(StoreAndForward, HolesAndForeignChainsAreRefused) {
  MemoryTruck truck("OW-04");
  TempBase base;
  ASSERT_TRUE(Link(truck, base).run());
  fill(truck, 3);
  Link link(truck, base);
  link.base_works();
  ASSERT_TRUE(link.truck_reads());
  link.truck_sends();
  auto& entries = *link.to_base_.front().mutable_batch()->mutable_entry();
  entries.DeleteSubrange(1, 1);
  link.base_works();
  ASSERT_TRUE(link.last_step_.refusal);
  EXPECT_EQ(link.last_step_.refusal->reason(), v1::Refusal::REASON_OUT_OF_ORDER);
  EXPECT_EQ(link.last_step_.refusal->expected_seq(), 2U);
}

TEST(StoreAndForward, SameSeqWithOtherBytesIsAFork) {
  MemoryTruck truck("OW-04");
  TempBase base;
  ASSERT_TRUE(Link(truck, base).run());
  for (int i = 0; i < 2; ++i) truck.write(Kind::kObservations, "b" + std::to_string(i));
  ASSERT_TRUE(Link(truck, base).run());
  const auto kept = truck.own()[1].entry;
  truck.restore(1);
  truck.write(Kind::kObservations, "another second entry");
  Link link(truck, base);
  link.to_base_.clear();
  truck.head() = {};
  *link.to_base_.emplace_back().mutable_hello() = truck.hello().value();
  link.base_works();
  v1::SentEntry& sent = *link.to_base_.emplace_back().mutable_batch()->add_entry();
  sent.set_entry(string_of(truck.own()[1].entry));
  sent.set_salt(string_of(truck.own()[1].salt));
  sent.set_body(truck.own()[1].body);
  link.base_works();
  ASSERT_TRUE(link.last_step_.fork);
  EXPECT_EQ(link.last_step_.fork->kept_entry(), view_of(kept));
  EXPECT_EQ(link.last_step_.fork->other_entry(), view_of(truck.own()[1].entry));
  ASSERT_TRUE(link.last_step_.refusal);
  EXPECT_EQ(link.last_step_.refusal->reason(), v1::Refusal::REASON_FORK);
}

TEST(StoreAndForward, ABaseThatIsNotEnrollingDeniesWithWords) {
  MemoryTruck truck("OW-04");
  TempBase base;
  const Status done = Link(truck, base, /*enrols=*/false).run();
  ASSERT_FALSE(done);
  EXPECT_EQ(done.error().code, Code::kConflict);
  EXPECT_NE(done.error().message.find("fairlead enrol truck at the base"), std::string::npos);
  EXPECT_FALSE(truck.enrolled());
}

TEST(StoreAndForward, AHelloWithoutTheKeyIsRefused) {
  MemoryTruck truck("OW-04");
  TempBase base;
  v1::Shipment shipment;
  *shipment.mutable_hello() = truck.hello().value();
  (*shipment.mutable_hello()->mutable_signature())[3] ^= 1;
  IntakeState down(base.ledger(), base.devices(), true);
  const intake::Step step = down.take(shipment);
  ASSERT_TRUE(step.refusal);
  EXPECT_EQ(step.refusal->reason(), v1::Refusal::REASON_BAD_SIGNATURE);
  EXPECT_FALSE(down.greeted());
}

TEST(StoreAndForward, OrdersComeDownOnceAndOnlySignedOnes) {
  MemoryTruck truck("OW-04");
  TempBase base;
  ASSERT_TRUE(Link(truck, base).run());
  const uint64_t first = base.order("sheet one");
  ASSERT_TRUE(Link(truck, base).run());
  ASSERT_EQ(truck.orders().size(), 1U);
  EXPECT_EQ(truck.orders()[0].leaf_index(), first);
  base.order("sheet two");
  ASSERT_TRUE(Link(truck, base).run());
  ASSERT_TRUE(Link(truck, base).run());
  ASSERT_EQ(truck.orders().size(), 2U);
  v1::OrderBody second;
  ASSERT_TRUE(second.ParseFromString(truck.orders()[1].body()));
  EXPECT_EQ(second.sheet().words(), "sheet two");

  Link link(truck, base);
  link.base_works();
  ASSERT_TRUE(link.truck_reads());
  v1::Reply forged;
  *forged.mutable_orders()->add_order() = truck.orders()[0];
  second.mutable_sheet()->set_words("sheet forged");
  forged.mutable_orders()->mutable_order(0)->set_body(second.SerializeAsString());
  link.to_truck_.push_back(forged);
  const Status refused = link.truck_reads();
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, Code::kConflict);
  EXPECT_EQ(truck.orders().size(), 2U);
}

TEST(StoreAndForward, ARewrittenOrRestoredBaseIsSeen) {
  MemoryTruck truck("OW-04");
  TempBase base;
  ASSERT_TRUE(Link(truck, base).run());
  fill(truck, 4);
  ASSERT_TRUE(Link(truck, base).run());
  ASSERT_TRUE(Link(truck, base).run());
  const record::Checkpoint seen = truck.head();
  ASSERT_GT(seen.size, 0U);
  // The truck remembers more than this base has.
  truck.head().size = base.ledger().size() + 1;
  Status done = Link(truck, base).run();
  ASSERT_FALSE(done);
  EXPECT_NE(done.error().message.find("restored from an older copy"), std::string::npos);
  // The truck remembers another root.
  truck.head() = seen;
  truck.head().root[0] ^= 1;
  done = Link(truck, base).run();
  ASSERT_FALSE(done);
  EXPECT_EQ(done.error().code, Code::kConflict);
}

// A base that rewrote its record would not say so itself.
TEST(StoreAndForward, ATruckItselfChecksThatANewerHeadExtendsTheOneItHasSeen) {
  MemoryTruck truck("OW-04");
  TempBase base;
  ASSERT_TRUE(Link(truck, base).run());
  ASSERT_TRUE(base.ledger().sign_head());
  ASSERT_TRUE(Link(truck, base).run());
  ASSERT_GT(truck.head().size, 0U);
  base.order("more");
  ASSERT_TRUE(base.ledger().sign_head());
  uplink::UplinkState up(truck);
  intake::IntakeState down(base.ledger(), base.devices(), true);
  const auto hello = up.greet();
  ASSERT_TRUE(hello);
  const auto step = down.take(*hello);
  ASSERT_EQ(1U, step.replies.size());
  truck.head().root[0] ^= 1;
  const Status taken = up.take(step.replies.front());
  ASSERT_FALSE(taken);
  EXPECT_EQ(taken.error().code, Code::kConflict);
  EXPECT_NE(taken.error().message.find("its record was rewritten"), std::string::npos);
}

TEST(StoreAndForward, AReceiptThatProvesNothingEndsTheConnection) {
  MemoryTruck truck("OW-04");
  TempBase base;
  ASSERT_TRUE(Link(truck, base).run());
  fill(truck, 4);
  Link link(truck, base);
  ASSERT_TRUE(link.run());
  ASSERT_EQ(link.up_.receipted_seq(), 4U);
  const auto head = base.ledger().sign_head();
  ASSERT_TRUE(head);
  const auto last = base.of_device(truck.device_id()).back();
  v1::Reply reply;
  v1::Receipt& receipt = *reply.mutable_receipt();
  receipt.set_epoch(1);
  receipt.set_seq(4);
  receipt.set_leaf_index(last.leaf);
  receipt.set_recv_us(last.recv_us);
  receipt.set_checkpoint(head->note);
  const auto path = base.ledger().inclusion(last.leaf, head->size);
  ASSERT_TRUE(path);
  for (const Hash& hash : *path) receipt.add_path(string_of(hash));
  ASSERT_TRUE(link.up_.take(reply));
  receipt.set_recv_us(last.recv_us + 1);
  const Status refused = link.up_.take(reply);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, Code::kConflict);
}

}  // namespace
}  // namespace fairlead
