// Limits of what a plugin may take, and what its clocks may say. Figures are ours (life.h); the
// process's own are checked against getrusage(2) and what this test itself opens and takes.
#include "daemon/sensors/usage.h"

#include <fcntl.h>
#include <gtest/gtest.h>
#include <sys/resource.h>
#include <unistd.h>

#include <vector>

#include "daemon/sensors/clock_check.h"

namespace fairlead::sensors {
namespace {

constexpr int64_t kS = 1'000'000;

TEST(UsageTest, ReadsWhatThisProcessTakes) {
  auto before = usage_of(getpid());
  ASSERT_TRUE(before);
  EXPECT_GT(before->rss_kib, 1000);
  std::vector<char> memory(40 << 20, 1);
  int fd = open("/dev/null", O_RDONLY);
  rusage own{};
  do {
    getrusage(RUSAGE_SELF, &own);
  } while (own.ru_utime.tv_sec == 0 && own.ru_utime.tv_usec < 200'000);
  auto after = usage_of(getpid());
  ASSERT_TRUE(after);
  EXPECT_GT(after->rss_kib, before->rss_kib + 38 * 1024);
  EXPECT_EQ(after->open_files, before->open_files + 1);
  getrusage(RUSAGE_SELF, &own);
  int64_t cpu_us = (own.ru_utime.tv_sec + own.ru_stime.tv_sec) * kS + own.ru_utime.tv_usec +
                   own.ru_stime.tv_usec;
  EXPECT_NEAR(static_cast<double>(after->cpu_us), static_cast<double>(cpu_us), 50'000);
  EXPECT_EQ(memory.back(), 1);
  close(fd);
  EXPECT_FALSE(usage_of(0x7fffffff));
}

class UsageWatchTest : public testing::Test {
 protected:
  std::optional<std::string> look(Usage usage, uint64_t readings) {
    now_us_ += kS;
    return watch_.judge(usage, readings, now_us_, now_us_);
  }
  UsageWatchTest() { watch_.begin(now_us_); }
  int64_t now_us_ = 5 * kS;
  UsageWatch watch_{Limits{}};
};

TEST_F(UsageWatchTest, LooksTwiceASecond) {
  EXPECT_FALSE(watch_.due(now_us_ + kS / 2 - 1));
  EXPECT_TRUE(watch_.due(now_us_ + kS / 2));
}

TEST_F(UsageWatchTest, MemoryAndFilesAreJudgedAtOnce) {
  EXPECT_FALSE(look({.rss_kib = 128 * 1024, .open_files = 128}, 0));
  EXPECT_NE(look({.rss_kib = 128 * 1024 + 1}, 0)->find("128 MiB of memory"), std::string::npos);
  EXPECT_NE(look({.open_files = 129}, 0)->find("129 open files"), std::string::npos);
}

TEST_F(UsageWatchTest, ABurstIsLetPassThreeLooksAreNot) {
  Usage usage;
  uint64_t readings = 0;
  for (int round = 0; round < 3; ++round) {
    for (int i = 0; i < 2; ++i) {
      usage.cpu_us += 9 * kS / 10;
      EXPECT_FALSE(look(usage, readings += 1000));
    }
    EXPECT_FALSE(look(usage, readings += 1000)) << "quiet again";
  }
  for (int i = 0; i < 2; ++i) EXPECT_FALSE(look({.cpu_us = usage.cpu_us += kS}, readings));
  EXPECT_NE(look({.cpu_us = usage.cpu_us += kS}, readings)->find("100 % of a core"),
            std::string::npos);
}

TEST_F(UsageWatchTest, AFloodIsSeenByItsRate) {
  uint64_t readings = 0;
  for (int i = 0; i < 10; ++i) EXPECT_FALSE(look({}, readings += 2000));
  for (int i = 0; i < 2; ++i) EXPECT_FALSE(look({}, readings += 2001));
  EXPECT_NE(look({}, readings += 2500)->find("2500 readings a second"), std::string::npos);
}

TEST_F(UsageWatchTest, WhatWaitedForASlowRecorderIsNoFlood) {
  // 60 s of 100 Hz that come in six looks, each reading stamped when it was taken.
  int64_t taken_us = now_us_;
  now_us_ += 60 * kS;
  for (uint64_t i = 1; i <= 6; ++i) {
    now_us_ += kS / 2;
    EXPECT_FALSE(
        watch_.judge({}, i * 1000 * 2, taken_us + static_cast<int64_t>(i) * 10 * kS, now_us_));
  }
  // The same without that time in its stamps is one.
  UsageWatch other{Limits{}};
  other.begin(now_us_);
  std::optional<std::string> said;
  for (uint64_t i = 1; i <= 3; ++i) {
    now_us_ += kS / 2;
    said = other.judge({}, i * 1000 * 2, now_us_, now_us_);
  }
  EXPECT_TRUE(said);
}

TEST(ClockCheckTest, BelievesThisMachinesClocksOnly) {
  constexpr int64_t kWall = 1'772'445'600 * kS;
  constexpr int64_t kMono = 1000 * kS;
  ClockCheck check;
  check.note(kWall, kMono);
  EXPECT_TRUE(check.believes(kWall, kMono, kMono));
  EXPECT_TRUE(check.believes(kWall - 600 * kS, kMono - 600 * kS, kMono)) << "buffered for long";
  EXPECT_FALSE(check.believes(kWall + 3600 * kS, kMono, kMono)) << "an hour ahead";
  EXPECT_FALSE(check.believes(kWall, kMono - 5 * kS, kMono)) << "monotonic alone runs back";
  EXPECT_FALSE(check.believes(kWall + 9 * kS, kMono + 9 * kS, kMono)) << "still to come";
  EXPECT_FALSE(check.believes(kWall, 0, kMono)) << "no monotonic time at all";
}

TEST(ClockCheckTest, AStepOfTheWallClockIsNoLieBeforeAndAfter) {
  constexpr int64_t kWall = 1'772'445'600 * kS;
  constexpr int64_t kMono = 1000 * kS;
  ClockCheck check;
  check.note(kWall, kMono);
  check.note(kWall + 3600 * kS, kMono + kS);
  EXPECT_TRUE(check.believes(kWall, kMono, kMono + kS)) << "taken before the step";
  EXPECT_TRUE(check.believes(kWall + 3600 * kS, kMono + kS, kMono + kS));
  for (int i = 2; i < 40; ++i) check.note(kWall + i * 3600 * kS, kMono + i * kS);
  EXPECT_FALSE(check.believes(kWall, kMono, kMono + 40 * kS)) << "only so many are kept";
}

}  // namespace
}  // namespace fairlead::sensors
