// A truck frees what its base keeps: only after its receipt is old enough, earlier under a
// countersigned head, never of an open job, never while the base has not said on this connection
// that it holds the body. The days are the record's own rule (record.md 5); a real ledger either
// side.
#include <gtest/gtest.h>

#include "daemon/uplink/truck_disk.h"
#include "daemon/watch/stamp.h"
#include "tests/unit/uplink/memory_link.h"

namespace fairlead {
namespace {

using record::Kind;
using test::MemoryLink;
using test::TempBase;
using test::TempFolder;

constexpr int64_t kDayUs = 86'400'000'000;

class Freeing : public ::testing::Test {
 protected:
  Freeing() {
    auto opened = uplink::TruckDisk::open(folder_.path(), "OW-04");
    EXPECT_TRUE(opened) << opened.error().message;
    disk_ = std::move(*opened);
    run();
  }
  void run() {
    const Status done = MemoryLink(*disk_, base_).run();
    ASSERT_TRUE(done) << done.error().message;
  }
  uint64_t write(Kind kind, const std::string& body, const record::Id16& job = {}) {
    ledger::OwnEntry own;
    own.header.kind = kind;
    own.header.device_id = disk_->device_id();
    own.header.job_id = job;
    watch::stamp(own.header);
    own.body = body;
    own.key = disk_->key();
    return disk_->ledger()->append_own({own}).get()->front().mark.seq;
  }
  // Bodies of the truck's entries that are still here.
  std::set<uint64_t> here() {
    std::set<uint64_t> out;
    const auto entries = disk_->ledger()->device_entries(disk_->device_id(), 1, 1, 1'000, true);
    for (const auto& entry : *entries) {
      if (entry.body_state == ledger::BodyState::kHere) out.insert(entry.header().seq);
    }
    return out;
  }
  uint64_t free_after(int64_t days) {
    const auto freed =
        disk_->free_held(policy_, watch::wall_now_us() + days * kDayUs + kDayUs / 24);
    EXPECT_TRUE(freed) << freed.error().message;
    return freed.value_or(0);
  }

  TempFolder folder_;
  TempBase base_;
  RetentionConfig policy_;
  std::unique_ptr<uplink::TruckDisk> disk_;
};

TEST_F(Freeing, AReceiptOldEnoughFreesEventsAndSamplesAndNothingElse) {
  v1::JobOpenBody open;
  v1::JobCloseBody close;
  write(Kind::kJobOpen, open.SerializeAsString(), {1});
  write(Kind::kObservations, "said", {1});
  write(Kind::kStrip, "samples");
  write(Kind::kCard, "card", {1});
  write(Kind::kJobClose, close.SerializeAsString(), {1});
  run();  // Entries, acknowledged ...
  write(Kind::kObservations, "said later");
  run();  // ... and the receipt of the newest.
  ASSERT_EQ(here(), (std::set<uint64_t>{1, 2, 3, 4, 5, 6}));
  EXPECT_EQ(free_after(policy_.truck_days - 1), 0U) << "a day too early";
  ASSERT_EQ(here().size(), 6U);
  EXPECT_GE(free_after(policy_.truck_days), 2U);
  const auto left = here();
  EXPECT_FALSE(left.contains(2));
  EXPECT_FALSE(left.contains(3));
  for (const uint64_t seq : {1, 4, 5}) EXPECT_TRUE(left.contains(seq)) << seq;
  // All of it is at the base, and the truck's ledger is whole.
  for (const auto& entry : base_.of_device(disk_->device_id()))
    EXPECT_EQ(entry.body_state, ledger::BodyState::kHere);
  EXPECT_TRUE(disk_->ledger()->audit()->problems.empty());
  run();
  EXPECT_EQ(base_.of_device(disk_->device_id()).size(), 6U) << "nothing is lost, nothing is said";
}

TEST_F(Freeing, AJobThatIsOpenKeepsAll) {
  v1::JobOpenBody open;
  write(Kind::kObservations, "before");
  write(Kind::kJobOpen, open.SerializeAsString(), {1});
  write(Kind::kObservations, "said", {1});
  write(Kind::kStrip, "samples");
  run();
  run();
  write(Kind::kStrip, "more");
  run();
  free_after(400);
  EXPECT_EQ(here(), (std::set<uint64_t>{2, 3, 4, 5}));
}

TEST_F(Freeing, UnderACountersignedHeadItNeedNotWaitSoLong) {
  write(Kind::kObservations, "said");
  run();
  EXPECT_EQ(free_after(policy_.truck_cosigned_days), 0U);
  record::Checkpoint head;
  head.size = base_.ledger().size() + 100;
  ASSERT_TRUE(disk_->keep_cosigned(head, "a note"));
  EXPECT_EQ(free_after(policy_.truck_cosigned_days - 1), 0U);
  EXPECT_EQ(free_after(policy_.truck_cosigned_days), 1U);
}

TEST_F(Freeing, OnlyWhatTheBaseSaysOnThisConnectionThatItHolds) {
  write(Kind::kObservations, "said");
  run();
  write(Kind::kObservations, "said later");
  ASSERT_TRUE(disk_->hello()) << "a new connection begins";
  EXPECT_EQ(free_after(400), 0U);
  run();
  policy_.on = false;
  EXPECT_EQ(free_after(400), 0U) << "the owner wants everything kept";
  policy_.on = true;
  EXPECT_GE(free_after(400), 1U);
}

TEST_F(Freeing, ABaseThatWasPutBackIsToldOnceWhatIsLost) {
  const TempFolder copies;
  base_.save_to(copies.path() / "image");
  for (int i = 0; i < 20; ++i) write(i % 4 == 0 ? Kind::kStrip : Kind::kObservations, "x");
  run();
  write(Kind::kObservations, "newest");
  run();
  ASSERT_GE(free_after(400), 20U);
  const auto left = here();
  base_.put_back(copies.path() / "image");
  ASSERT_FALSE(MemoryLink(*disk_, base_).run());
  EXPECT_EQ(free_after(400), 0U) << "not while the base is an older copy";
  ASSERT_TRUE(base_.declare("an older copy was put in"));
  run();
  run();
  const auto all = base_.of_device(disk_->device_id());
  ASSERT_EQ(all.size(), 22U);
  v1::GapBody gap;
  ASSERT_EQ(all.back().header().kind, Kind::kGap);
  ASSERT_TRUE(gap.ParseFromString(all.back().body));
  const std::set<uint64_t> lost(gap.lost_body_seq().begin(), gap.lost_body_seq().end());
  for (const auto& entry : all) {
    const uint64_t seq = entry.header().seq;
    EXPECT_EQ(lost.contains(seq), entry.body_state == ledger::BodyState::kErased) << seq;
    EXPECT_EQ(lost.contains(seq), seq <= 21 && !left.contains(seq)) << seq;
  }
}

}  // namespace
}  // namespace fairlead
