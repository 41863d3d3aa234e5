// The record's promise G6 (a restored or copied disk is found at first contact with a party that
// holds a later head) and the way back from each: a truck put back to an earlier image, a truck
// that exists twice, a base put back. Nothing acknowledged may be lost, and what a truck had signed
// but not sent must come in word for word. No outside source: these are the record's own promises.
// 10 of each; FAIRLEAD_RESTORES=200 is the long form.
#include <gtest/gtest.h>

#include <cstdlib>
#include <map>
#include <random>
#include <set>

#include "tests/unit/uplink/memory_link.h"

namespace fairlead {
namespace {

using record::Kind;
using test::fill;
using test::MemoryLink;
using test::MemoryTruck;
using test::TempBase;

int rounds() {
  const char* asked = std::getenv("FAIRLEAD_RESTORES");
  return asked == nullptr ? 10 : std::max(1, std::atoi(asked));
}

using Bytes = std::set<std::string>;

Bytes own_bytes(const MemoryTruck& truck, size_t from = 0) {
  Bytes out;
  for (size_t i = from; i < truck.own().size(); ++i)
    out.insert(string_of(truck.own()[i].entry) + truck.own()[i].body);
  return out;
}

// What the base holds of a device in an epoch, and, unwrapped, what was brought in there.
Bytes held(TempBase& base, const MemoryTruck& truck, uint32_t epoch) {
  Bytes out;
  for (const auto& entry : base.of_device(truck.device_id(), epoch)) {
    v1::RecoveredBody recovered;
    if (entry.header().kind == Kind::kRecovered && recovered.ParseFromString(entry.body)) {
      EXPECT_FALSE(recovered.salt().empty());
      out.insert(recovered.entry() + recovered.body());
    }
    out.insert(string_of(entry.entry) + entry.body);
  }
  return out;
}

size_t count(TempBase& base, Kind kind) {
  return base.ledger().entries_of_kind(kind, 0, 10'000)->size();
}

void expect_whole(TempBase& base) {
  const auto report = base.ledger().audit();
  ASSERT_TRUE(report) << report.error().message;
  EXPECT_TRUE(report->problems.empty()) << report->problems.front();
}

void expect_contains(const Bytes& all, const Bytes& part, const char* what) {
  size_t lost = 0;
  for (const auto& bytes : part) lost += all.contains(bytes) ? 0 : 1;
  EXPECT_EQ(lost, 0U) << what << ": lost of " << part.size();
}

void run_well(MemoryTruck& truck, TempBase& base) {
  const Status done = MemoryLink(truck, base).run();
  ASSERT_TRUE(done) << done.error().message;
}

class Random {
 public:
  explicit Random(unsigned seed) : engine_(seed) {}
  int upto(int most) { return static_cast<int>(engine_() % static_cast<unsigned>(most + 1)); }

 private:
  std::mt19937 engine_;
};

TEST(Restore, ATruckPutBackIsFoundAtFirstContactAndGoesOn) {
  for (int round = 0; round < rounds(); ++round) {
    Random random(static_cast<unsigned>(round));
    TempBase base;
    MemoryTruck truck("OW-04");
    run_well(truck, base);
    fill(truck, random.upto(300));
    if (round % 2 == 0) run_well(truck, base);
    MemoryTruck image = truck;
    fill(truck, 1 + random.upto(700));
    run_well(truck, base);
    const Bytes acknowledged = own_bytes(truck);
    const size_t common = image.own().size(), acked = truck.own().size();
    // The truck may have recorded on from the image before it reached the base.
    const int own = round % 3 == 0 ? 0 : 1 + random.upto(round % 3 == 1 ? 20 : 900);
    image.start_anew();
    fill(image, own);
    const Bytes unsent = own_bytes(image, common);
    run_well(image, base);
    ASSERT_EQ(image.epoch(), 2U) << "round " << round;
    EXPECT_EQ(image.returned().size(), acked - common);
    EXPECT_EQ(count(base, Kind::kRestore), 1U);
    EXPECT_EQ(count(base, Kind::kFork), own > 0 ? 1U : 0U) << "round " << round;
    EXPECT_EQ(count(base, Kind::kGap), 1U) << "what nobody knows is stated";
    expect_contains(held(base, truck, 1), acknowledged, "acknowledged before");
    expect_contains(held(base, image, 2), unsent, "signed and never sent");
    fill(image, 20);
    run_well(image, base);
    EXPECT_EQ(base.of_device(image.device_id(), 2).size(), image.size());
    EXPECT_EQ(image.acked(), image.size());
    // It is its one epoch from here on.
    base.restart();
    image.start_anew();
    fill(image, 5);
    run_well(image, base);
    EXPECT_EQ(count(base, Kind::kRestore), 1U);
    expect_whole(base);
  }
}

TEST(Restore, ALinkCutAnywhereWhileAnEpochOpensCostsNothing) {
  for (int cut = 0; cut < 12; ++cut) {
    TempBase base;
    MemoryTruck truck("OW-04");
    run_well(truck, base);
    fill(truck, 40);
    MemoryTruck image = truck;
    fill(truck, 300);
    run_well(truck, base);
    fill(image, 30);
    const Bytes unsent = own_bytes(image, 40);
    {
      MemoryLink link(image, base);
      for (int i = 0; i < cut; ++i) {
        ASSERT_TRUE(link.truck_reads());
        link.truck_sends();
        link.base_works();
      }
    }
    if (cut % 3 == 0) base.restart();
    if (cut % 2 == 0) image.start_anew();
    run_well(image, base);
    EXPECT_EQ(image.epoch(), 2U) << "cut " << cut;
    EXPECT_EQ(count(base, Kind::kRestore), 1U) << "cut " << cut;
    EXPECT_EQ(image.returned().size(), 300U) << "cut " << cut;
    expect_contains(held(base, image, 2), unsent, "signed and never sent");
    expect_whole(base);
  }
}

// The copies call in turn; which of them calls next is drawn.
TEST(Restore, ATruckThatExistsTwiceIsFoundAndAPersonChooses) {
  for (int round = 0; round < rounds(); ++round) {
    Random random(1'000 + static_cast<unsigned>(round));
    TempBase base;
    MemoryTruck first("OW-04");
    run_well(first, base);
    fill(first, random.upto(100));
    if (round % 2 == 0) run_well(first, base);
    MemoryTruck second = first;
    second.start_anew();
    Bytes acknowledged;
    int contacts = 0;
    for (; contacts < 8 && !base.devices().find(first.device_id())->suspended; ++contacts) {
      MemoryTruck& caller = contacts % 2 == round % 2 ? first : second;
      fill(caller, 1 + random.upto(40));
      if (MemoryLink(caller, base).run()) acknowledged.merge(own_bytes(caller));
    }
    ASSERT_TRUE(base.devices().find(first.device_id())->suspended) << "round " << round;
    // Each copy has called once when the second's own entries meet the first's; at the latest when
    // the first comes back.
    EXPECT_LE(contacts, 3) << "round " << round;
    EXPECT_GE(count(base, Kind::kFork), 1U);
    if (round % 2 == 0) base.restart();
    for (MemoryTruck* truck : {&first, &second}) {
      EXPECT_EQ(MemoryLink(*truck, base).run().error().code, Code::kConflict);
      EXPECT_EQ(MemoryLink(*truck, base).run().error().code, Code::kConflict);
    }
    ASSERT_NE(first.copy(), second.copy());
    ASSERT_EQ(base.devices().copies(first.device_id()).size(), 2U);
    MemoryTruck& chosen = round % 3 == 0 ? first : second;
    MemoryTruck& other = round % 3 == 0 ? second : first;
    const auto decided = base.devices().decide("OW-04", hex_of(chosen.copy()).substr(0, 12), "");
    ASSERT_TRUE(decided) << decided.error().message;
    const Bytes unsent = own_bytes(chosen);
    run_well(chosen, base);
    fill(chosen, 3);
    run_well(chosen, base);
    const Status refused = MemoryLink(other, base).run();
    ASSERT_FALSE(refused);
    EXPECT_NE(refused.error().message.find("another copy"), std::string::npos);
    if (round % 2 == 1) base.restart();
    EXPECT_FALSE(MemoryLink(other, base).run());
    run_well(chosen, base);
    Bytes all;
    for (uint32_t epoch = 1; epoch <= chosen.epoch(); ++epoch) all.merge(held(base, chosen, epoch));
    expect_contains(all, acknowledged, "acknowledged to either copy");
    expect_contains(all, unsent, "of the copy that goes on");
    expect_whole(base);
  }
}

TEST(Restore, ABasePutBackIsFoundAtFirstContactAndGoesOnInANewGeneration) {
  const test::TempFolder copies;
  for (int round = 0; round < rounds(); ++round) {
    Random random(2'000 + static_cast<unsigned>(round));
    TempBase base;
    MemoryTruck truck("OW-04"), later("OW-07");
    run_well(truck, base);
    fill(truck, random.upto(100));
    run_well(truck, base);
    run_well(truck, base);
    base.save_to(copies.path() / "image");
    fill(truck, 1 + random.upto(100));
    run_well(truck, base);
    const bool enrolled_since = round % 2 == 0;
    if (enrolled_since) {
      run_well(later, base);
      fill(later, 1 + random.upto(100));
      run_well(later, base);
    }
    fill(truck, 5);
    run_well(truck, base);
    run_well(truck, base);
    const Bytes recorded = own_bytes(truck), recorded_later = own_bytes(later);
    const uint64_t lost_size = truck.head().size;

    base.put_back(copies.path() / "image");
    ASSERT_LT(base.ledger().size(), lost_size);
    base.order("written before anybody called");
    EXPECT_FALSE(base.ledger().sign_head()) << "a base with a truck signs nothing before it called";
    const Status found = MemoryLink(truck, base).run();
    ASSERT_FALSE(found);
    EXPECT_NE(found.error().message.find("restored from an older copy"), std::string::npos);
    EXPECT_FALSE(base.ledger().sign_head());
    v1::OrderBody order;
    EXPECT_FALSE(base.office().write(Kind::kOrder, {}, order)) << "it must take nothing in";
    EXPECT_TRUE(base.ledger().entry(0)) << "and go on being read";
    base.restart();
    EXPECT_FALSE(base.office().heads().frozen().empty()) << "it still knows after a restart";

    const auto made = base.declare("the disk failed, an older copy was put in");
    ASSERT_TRUE(made) << made.error().message;
    EXPECT_EQ(made->last_size, lost_size);
    EXPECT_EQ(made->origin, "memory/fairlead/g2");
    run_well(truck, base);
    fill(truck, 10);
    run_well(truck, base);
    expect_contains(held(base, truck, 1), recorded, "resent by the truck");
    EXPECT_EQ(base.of_device(truck.device_id(), 1).size(), truck.size());
    EXPECT_EQ(truck.epoch(), 1U);
    if (enrolled_since) {
      run_well(later, base);
      run_well(later, base);  // The first opens the epoch, the next brings what it took in.
      Bytes all;
      for (uint32_t epoch = 1; epoch <= later.epoch(); ++epoch) all.merge(held(base, later, epoch));
      expect_contains(all, recorded_later, "of the truck that was enrolled in the lost time");
    }
    const auto head = base.ledger().sign_head();
    ASSERT_TRUE(head) << head.error().message;
    EXPECT_TRUE(head->note.starts_with("memory/fairlead/g2\n"));
    EXPECT_EQ(count(base, Kind::kFork), 0U);
    expect_whole(base);
    // The generation stands a restart, and truck and base agree on its heads.
    base.restart();
    run_well(truck, base);
    EXPECT_EQ(truck.head().origin, "memory/fairlead/g2");
  }
}

// A truck that was enrolled in the lost time brings its entries in word for word, and of what it
// has freed the entry alone.
void expect_brought_in(TempBase& base, MemoryTruck& truck,
                       const std::vector<uplink::OwnEntry>& written, size_t freed) {
  run_well(truck, base);
  run_well(truck, base);
  std::map<std::string, bool> brought;  // Entry to whether its body came.
  for (const auto& entry : base.of_device(truck.device_id(), truck.epoch())) {
    v1::RecoveredBody recovered;
    if (entry.header().kind == Kind::kRecovered && recovered.ParseFromString(entry.body))
      brought[recovered.entry()] = !recovered.salt().empty();
  }
  for (size_t i = 0; i < written.size(); ++i) {
    const auto found = brought.find(string_of(written[i].entry));
    ASSERT_NE(found, brought.end()) << i;
    EXPECT_EQ(found->second, i >= freed) << i;
  }
}

// A base that was put back asks for what its truck has freed meanwhile: every entry comes back, and
// which bodies nobody holds any more is said once, in the truck's own words.
TEST(Restore, ABasePutBackAsksForWhatATruckHasFreed) {
  const test::TempFolder copies;
  for (int round = 0; round < rounds(); ++round) {
    Random random(3'000 + static_cast<unsigned>(round));
    TempBase base;
    MemoryTruck truck("OW-04"), later("OW-07");
    run_well(truck, base);
    fill(truck, 1 + random.upto(50));
    run_well(truck, base);
    base.save_to(copies.path() / "image");
    const size_t kept = truck.size();
    fill(truck, 20 + random.upto(300));
    run_well(truck, base);
    run_well(later, base);
    fill(later, 30);
    run_well(later, base);
    const auto written = truck.own(), written_later = later.own();
    const size_t freed =
        kept + 1 + static_cast<size_t>(random.upto(static_cast<int>(truck.size() - kept - 1)));
    truck.free_up_to(freed);
    later.free_up_to(10);
    fill(truck, random.upto(20));
    const size_t before = truck.size();
    base.put_back(copies.path() / "image");
    ASSERT_FALSE(MemoryLink(truck, base).run());
    ASSERT_TRUE(base.declare("the disk failed, an older copy was put in"));
    {
      MemoryLink cut(truck, base);
      for (int i = random.upto(6); i > 0; --i) {
        ASSERT_TRUE(cut.truck_reads());
        cut.truck_sends();
        cut.base_works();
      }
    }
    run_well(truck, base);
    run_well(truck, base);
    const auto held_now = base.of_device(truck.device_id());
    ASSERT_EQ(held_now.size(), before + 1) << "what was written, and one word about what is lost";
    for (size_t i = 0; i < written.size(); ++i) {
      EXPECT_EQ(held_now[i].entry, written[i].entry);
      const bool gone = i >= kept && i < freed;
      EXPECT_EQ(held_now[i].body_state,
                gone ? ledger::BodyState::kErased : ledger::BodyState::kHere)
          << i;
      if (gone) continue;
      EXPECT_EQ(held_now[i].body, written[i].body);
    }
    v1::GapBody gap;
    ASSERT_TRUE(gap.ParseFromString(held_now[before].body));
    EXPECT_EQ(held_now[before].header().kind, Kind::kGap);
    ASSERT_EQ(static_cast<size_t>(gap.lost_body_seq_size()), freed - kept);
    EXPECT_EQ(gap.lost_body_seq(0), kept + 1);
    EXPECT_EQ(*gap.lost_body_seq().rbegin(), freed);
    expect_brought_in(base, later, written_later, 10);
    expect_whole(base);
  }
}

// A truck put back to an image from before it freed anything, or from after.
TEST(Restore, ATruckPutBackThatHasFreedGoesOn) {
  for (int round = 0; round < rounds(); ++round) {
    Random random(4'000 + static_cast<unsigned>(round));
    TempBase base;
    MemoryTruck truck("OW-04");
    run_well(truck, base);
    fill(truck, 50 + random.upto(100));
    run_well(truck, base);
    if (round % 2 == 0) truck.free_up_to(40);
    MemoryTruck image = truck;
    fill(truck, 1 + random.upto(100));
    run_well(truck, base);
    truck.free_up_to(truck.size());
    const size_t common = image.size();
    image.start_anew();
    fill(image, 1 + random.upto(20));
    const Bytes unsent = own_bytes(image, common);
    const auto acknowledged = base.of_device(truck.device_id());
    run_well(image, base);
    run_well(image, base);
    ASSERT_EQ(image.epoch(), 2U);
    expect_contains(held(base, image, 2), unsent, "signed and never sent");
    const auto still = base.of_device(truck.device_id());
    ASSERT_EQ(still.size(), acknowledged.size());
    for (const auto& entry : still) EXPECT_EQ(entry.body_state, ledger::BodyState::kHere);
    EXPECT_EQ(count(base, Kind::kGap), 1U) << "nothing is lost: only the unknown span is stated";
    expect_whole(base);
  }
}

TEST(Restore, ABaseWithoutTrucksSignsAtOnceAndOneWithTrucksWhenAHeadFits) {
  TempBase base;
  EXPECT_TRUE(base.ledger().sign_head());
  MemoryTruck truck("OW-04");
  run_well(truck, base);
  base.restart();
  EXPECT_TRUE(base.office().heads().waiting());
  base.order("written before anybody called");
  EXPECT_FALSE(base.ledger().sign_head());
  MemoryTruck stranger("OW-09");
  run_well(stranger, base);
  EXPECT_TRUE(base.office().heads().waiting()) << "who is new here knows nothing of this base";
  run_well(truck, base);
  EXPECT_FALSE(base.office().heads().waiting());
  EXPECT_TRUE(base.ledger().sign_head());
}

// Only a head that this base signed itself can stop it.
TEST(Restore, AMadeUpHeadStopsNobodyButItsTruck) {
  TempBase base;
  MemoryTruck truck("OW-04"), liar("OW-05");
  run_well(truck, base);
  run_well(liar, base);
  fill(liar, 3);
  run_well(liar, base);
  run_well(liar, base);
  ASSERT_GT(liar.head().size, 0U);
  const auto good = liar.head();
  liar.forget_head();
  liar.head() = good;
  liar.head().size = base.ledger().size() + 100;
  EXPECT_FALSE(MemoryLink(liar, base).run());
  EXPECT_TRUE(base.office().heads().frozen().empty());
  fill(truck, 3);
  run_well(truck, base);
}

TEST(Restore, NoFalseAlarmInManyReconnects) {
  const char* asked = std::getenv("FAIRLEAD_RECONNECTS");
  const int reconnects = asked == nullptr ? 1'000 : std::atoi(asked);
  Random random(7);
  TempBase base;
  MemoryTruck truck("OW-04");
  run_well(truck, base);
  for (int i = 0; i < reconnects; ++i) {
    if (random.upto(3) == 0) truck.start_anew();
    if (random.upto(99) == 0) base.restart();
    fill(truck, random.upto(2));
    MemoryLink link(truck, base);
    const int turns = random.upto(8);
    for (int turn = 0; turn < turns; ++turn) {
      link.base_works();
      ASSERT_TRUE(link.truck_reads()) << "reconnect " << i;
      link.truck_sends();
    }
  }
  run_well(truck, base);
  EXPECT_EQ(count(base, Kind::kRestore) + count(base, Kind::kFork), 0U);
  test::expect_all_there_once(truck, base);
}

}  // namespace
}  // namespace fairlead
