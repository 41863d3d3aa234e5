// The record's promises G5 and G9 on a bad disk: the power goes at any write or sync, and what was
// not synced is dropped, torn or reordered; a sync fails once; the disk is full for a while. What
// was acknowledged is there, once. 100, every site, 20; FAIRLEAD_VFS=10000 and FAIRLEAD_FULL=500
// are the long forms.
#include <cstdio>
#include <cstdlib>

#include "tests/fault/ledger_child.h"
#include "tests/fault/shim_vfs.h"

namespace fairlead::ledger {
namespace {

namespace fs = std::filesystem;

constexpr int kTrucks = 2;

void make_ledger(const Options& options) {
  const auto ledger = open_or_fail(options);
  ASSERT_NE(nullptr, ledger);
  for (uint8_t number = 1; number <= kTrucks; ++number) (void)enrol(*ledger, number);
}

// Appends, and now and then erases, which cuts the log: all ways of writing a ledger has.
[[noreturn]] void work(const Options& options, const ShimPlan& plan, int acks) {
  install_shim(plan);
  auto opened = open_sqlite(options);
  if (!opened) ::_exit(3);
  std::mt19937 random(static_cast<unsigned>(plan.seed));
  for (int i = 0; i < 6; ++i) {
    if (!append_some(**opened, acks, kTrucks, 4, random)) {
      // Never again in this process.
      TestTruck truck(1, *(*opened)->watermark(id_of(1)));
      if ((*opened)->failure().empty() || (*opened)->append({truck.next()}).get()) ::_exit(8);
      opened->reset();
      ::_exit(42);
    }
    EraseOrder order;
    order.leaves = {random() % (*opened)->size()};
    order.policy = "test";
    order.own.header.device_id = id_of(kOfficer);
    order.own.key = key_of(kOfficer);
    if (random() % 2 == 0) (void)(*opened)->erase(order);
  }
  opened->reset();
  ::_exit(0);
}

TEST(LedgerVfs, WhatIsAcknowledgedSurvivesAPowerCutAtAnyWrite) {
  const int rounds = rounds_asked("FAIRLEAD_VFS", 100);
  ASSERT_GE(rounds, 1) << "FAIRLEAD_VFS: give a number of power cuts";
  int crashed = 0;
  size_t acknowledged = 0;
  std::mt19937 random(20260302);
  for (int done = 0; done < rounds;) {
    // Some cuts on one ledger after the other; then a fresh one, so that it stays small.
    const TestFolder folder;
    const auto options = base_options(folder.path());
    ASSERT_NO_FATAL_FAILURE(make_ledger(options));
    Acks acks;
    for (int i = 0; i < 10 && done < rounds; ++i, ++done) {
      ShimPlan plan;
      plan.crash_at = 1 + random() % 160;
      plan.seed = random();
      plan.after_crash = folder.path() / "after";
      const int status = run_child([&](int pipe) { work(options, plan, pipe); },
                                   [&](const Ack& ack) { acks[{ack.truck, ack.seq}] = ack; });
      ASSERT_TRUE(WIFEXITED(status)) << status;
      const int code = WEXITSTATUS(status);
      ASSERT_TRUE(code == 0 || code == ShimPlan::kCrashed) << "the child ended with " << code;
      if (code == ShimPlan::kCrashed) {
        ++crashed;
        for (const char* name : {"ledger.db", "ledger.db-wal", "ledger.db-shm"})
          fs::remove(options.folder / name);
        for (const auto& file : fs::directory_iterator(plan.after_crash))
          fs::rename(file.path(), options.folder / file.path().filename());
        fs::remove_all(plan.after_crash);
      }
      const auto ledger = open_or_fail(options);
      ASSERT_NE(nullptr, ledger) << "cut " << done << " at operation " << plan.crash_at << ", seed "
                                 << plan.seed;
      ASSERT_NO_FATAL_FAILURE(expect_all_there(*ledger, acks))
          << "cut " << done << " at operation " << plan.crash_at << ", seed " << plan.seed;
    }
    acknowledged += acks.size();
    if (rounds > 100 && done % 500 == 0) {
      std::printf("%d of %d power cuts\n", done, rounds);
      std::fflush(stdout);
    }
  }
  EXPECT_GT(crashed, rounds / 2);
  std::printf("%d power cuts, %zu acknowledged entries, all there once\n", crashed, acknowledged);
}

TEST(LedgerVfs, AfterASyncThatFailedNothingIsAcknowledgedAndTheStartReadsAllAgain) {
  uint64_t site = 1;
  int failures = 0;
  for (bool reached = true; reached; ++site) {
    const TestFolder folder;
    const auto options = base_options(folder.path());
    ASSERT_NO_FATAL_FAILURE(make_ledger(options));
    ShimPlan plan;
    plan.fail_sync_at = site;
    bool failed = false;
    Acks acks;
    const int status = run_child(
        [&](int pipe) {
          plan.on_failed_sync = [pipe] { (void)say(pipe, Ack{}); };
          work(options, plan, pipe);
        },
        [&](const Ack& ack) {
          if (ack.truck == 0) {
            failed = true;
            return;
          }
          EXPECT_FALSE(failed) << "acknowledged after a sync had failed, site " << site;
          acks[{ack.truck, ack.seq}] = ack;
        });
    reached = failed;
    ASSERT_TRUE(WIFEXITED(status));
    if (!failed) {
      EXPECT_EQ(0, WEXITSTATUS(status));
      continue;
    }
    ++failures;
    const bool while_opening = WEXITSTATUS(status) == 3;
    const bool at_the_end = WEXITSTATUS(status) == 0;  // Closing: everything is answered already.
    EXPECT_TRUE(WEXITSTATUS(status) == 42 || while_opening || at_the_end)
        << "site " << site << ": " << WEXITSTATUS(status);
    if (WEXITSTATUS(status) == 42 || while_opening) {
      EXPECT_TRUE(fs::exists(options.folder / "suspect")) << "site " << site;
    }
    const auto ledger = open_or_fail(options);
    ASSERT_NE(nullptr, ledger) << "site " << site;
    EXPECT_FALSE(fs::exists(options.folder / "suspect")) << "a clean full read clears it";
    ASSERT_NO_FATAL_FAILURE(expect_all_there(*ledger, acks)) << "site " << site;
  }
  EXPECT_GT(failures, 20) << "the work made too few syncs";
  std::printf("a sync failed at each of %d sites\n", failures);
}

TEST(LedgerVfs, ADiskThatIsFullForAWhileLosesNothingAndNeedsNobody) {
  const int rounds = rounds_asked("FAIRLEAD_FULL", 20);
  ASSERT_GE(rounds, 1) << "FAIRLEAD_FULL: give a number of rounds";
  std::mt19937 random(20260303);
  size_t acknowledged = 0;
  for (int round = 0; round < rounds; ++round) {
    const TestFolder folder;
    const auto options = base_options(folder.path());
    ASSERT_NO_FATAL_FAILURE(make_ledger(options));
    ShimPlan plan;
    plan.full_from = 1 + random() % 120;
    plan.full_for = 1 + random() % 40;
    plan.seed = random();
    Acks acks;
    const int status = run_child([&](int pipe) { work(options, plan, pipe); },
                                 [&](const Ack& ack) { acks[{ack.truck, ack.seq}] = ack; });
    ASSERT_TRUE(WIFEXITED(status));
    // Full while it opens: it says so and ends; else it goes on by itself.
    ASSERT_TRUE(WEXITSTATUS(status) == 0 || (WEXITSTATUS(status) == 3 && plan.full_from < 20))
        << "round " << round << " full from write " << plan.full_from << ": "
        << WEXITSTATUS(status);
    const auto ledger = open_or_fail(options);
    ASSERT_NE(nullptr, ledger) << "round " << round;
    ASSERT_NO_FATAL_FAILURE(expect_all_there(*ledger, acks)) << "round " << round;
    acknowledged += acks.size();
  }
  EXPECT_GT(acknowledged, static_cast<size_t>(rounds) * 10);
  std::printf("%d full disks, %zu acknowledged entries, all there once\n", rounds, acknowledged);
}

}  // namespace
}  // namespace fairlead::ledger
