// The record's promise G4 over a bad link: the real protocol of truck and base with messages lost,
// doubled, turned round, held back, the link reset at every message boundary, and both sides
// restarted. Afterwards every entry is at the base exactly once, and no fork or restore was seen.
// No outside source: these are the record's own promises. 200 seeds of 100 entries;
// FAIRLEAD_SEEDS=10000 FAIRLEAD_ENTRIES=1000 is the long form, from FAIRLEAD_FIRST_SEED on. It is
// about the protocol, so it runs on a disk in memory (TMPDIR), and asks for a head where the ledger
// would wait to gather more bodies: that wait, once a strip, was nearly all its time.
#include <gtest/gtest.h>

#include <cstdlib>
#include <memory>
#include <random>

#include "tests/unit/uplink/memory_link.h"

namespace fairlead {
namespace {

using record::Kind;
using test::MemoryLink;
using test::MemoryTruck;
using test::TempBase;

unsigned number(const char* name, unsigned otherwise) {
  const char* asked = std::getenv(name);
  return asked == nullptr ? otherwise : static_cast<unsigned>(std::max(1, std::atoi(asked)));
}

class Simulation {
 public:
  Simulation(TempBase& base, unsigned seed)
      : base_(base), random_(seed), truck_("OW-" + std::to_string(seed)) {}

  // Until so many entries were written; then the link is good and everything must arrive.
  void run(size_t entries) {
    while (truck_.size() < entries) {
      if (!link_) connect();
      step();
    }
    link_.reset();
    const Status done = MemoryLink(truck_, base_).run();
    ASSERT_TRUE(done) << done.error().message;
    test::expect_all_there_once(truck_, base_);
    EXPECT_EQ(truck_.acked(), truck_.size());
    EXPECT_EQ(truck_.epoch(), 1U) << "a false alarm";
  }
  [[nodiscard]] unsigned connections() const { return connections_; }

 private:
  unsigned draw(unsigned below) { return static_cast<unsigned>(random_() % below); }

  void connect() {
    link_ = std::make_unique<MemoryLink>(truck_, base_);
    ++connections_;
  }

  void step() {
    switch (draw(16)) {
      case 0:
      case 1:
      case 2:
        if (truck_.enrolled()) {
          test::fill(truck_, 1 + static_cast<int>(draw(4)));
        }
        return;
      case 3:
      case 4:
      case 5:
      case 6:
        return read();
      case 7:
      case 8:
      case 9:
        return link_->truck_sends();
      case 10:
      case 11:
      case 12:
      case 13:
        link_->base_works();
        if (link_->last_step_.refusal) refused();
        return;
      default:
        if (draw(2) == 0) fault();
    }
  }

  void read() {
    const Status read = link_->truck_reads();
    if (read) return;
    EXPECT_NE(read.error().code, Code::kConflict) << "a false alarm: " << read.error().message;
    link_.reset();
  }

  void refused() {
    const auto reason = link_->last_step_.refusal->reason();
    EXPECT_NE(reason, v1::Refusal::REASON_FORK) << "a false alarm";
    EXPECT_NE(reason, v1::Refusal::REASON_SUSPENDED) << "a false alarm";
    link_.reset();
  }

  // One message of either way is lost, doubled or overtaken; what is held back is the drawing's
  // doing.
  template <typename Queue>
  void spoil(Queue& queue) {
    if (queue.empty()) return;
    const size_t at = draw(static_cast<unsigned>(queue.size()));
    const auto message = queue[at];
    switch (draw(3)) {
      case 0:
        queue.erase(queue.begin() + static_cast<std::ptrdiff_t>(at));
        return;
      case 1:
        queue.push_back(message);
        return;
      default:
        std::swap(queue[at], queue[draw(static_cast<unsigned>(queue.size()))]);
    }
  }

  void fault() {
    switch (draw(12)) {
      case 0:
        link_.reset();
        return;
      case 1:
        truck_.start_anew();
        link_.reset();
        return;
      case 2:
        if (draw(4) != 0) return;
        link_.reset();
        base_.restart();
        return;
      default:
        if (draw(2) == 0) {
          spoil(link_->to_base_);
        } else {
          spoil(link_->to_truck_);
        }
    }
  }

  TempBase& base_;
  std::mt19937 random_;
  MemoryTruck truck_;
  std::unique_ptr<MemoryLink> link_;
  unsigned connections_ = 0;
};

TEST(LinkSimulation, EveryEntryArrivesOnceWhateverTheLinkDoes) {
  const unsigned seeds = number("FAIRLEAD_SEEDS", 200);
  const unsigned entries = number("FAIRLEAD_ENTRIES", 100);
  const unsigned first = number("FAIRLEAD_FIRST_SEED", 1);
  unsigned connections = 0;
  std::unique_ptr<TempBase> base;
  for (unsigned seed = first; seed < first + seeds; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    if (!base || seed % 25 == 0) base = std::make_unique<TempBase>();
    Simulation simulation(*base, seed);
    simulation.run(entries);
    connections += simulation.connections();
    ASSERT_FALSE(HasFailure());
    EXPECT_TRUE(base->ledger().entries_of_kind(Kind::kFork, 0, 1)->empty());
    EXPECT_TRUE(base->ledger().entries_of_kind(Kind::kRestore, 0, 1)->empty());
    if ((seed - first) % 100 == 99) std::printf("%u seeds, %u connections\n", seed, connections);
  }
  EXPECT_GT(connections, seeds) << "the link was never cut";
}

// The same exchange of three batches and nine strips, cut after each of its messages in turn.
TEST(LinkSimulation, AResetAtAnyMessageBoundaryLosesNothing) {
  constexpr int kEntries = 540, kStripEvery = 60;
  TempBase base;
  bool cut_before_end = true;
  int boundary = 0;
  for (; cut_before_end; ++boundary) {
    ASSERT_LT(boundary, 200);
    MemoryTruck truck("OW-" + std::to_string(boundary));
    ASSERT_TRUE(MemoryLink(truck, base).run());
    for (int i = 0; i < kEntries; ++i)
      truck.write(i % kStripEvery == 0 ? Kind::kStrip : Kind::kObservations, "body");
    {
      MemoryLink link(truck, base);
      int messages = 0;
      cut_before_end = false;
      for (int turn = 0; turn < 500 && !cut_before_end; ++turn) {
        // Each of these moves one message at most.
        ASSERT_TRUE(link.truck_reads());
        cut_before_end = ++messages > boundary;
        if (!cut_before_end) link.truck_sends();
        cut_before_end = cut_before_end || ++messages > boundary;
        if (!cut_before_end) link.base_works();
        cut_before_end = cut_before_end || ++messages > boundary;
        if (link.idle() && turn > 2) break;
      }
    }
    const Status done = MemoryLink(truck, base).run();
    ASSERT_TRUE(done) << "boundary " << boundary << ": " << done.error().message;
    test::expect_all_there_once(truck, base);
  }
  EXPECT_GT(boundary, 3 + 2 * kEntries / kStripEvery) << "fewer cuts than messages";
}

}  // namespace
}  // namespace fairlead
