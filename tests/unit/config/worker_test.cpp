// The worker's order and its end. No outside source.
#include "daemon/base/worker.h"

#include <gtest/gtest.h>

#include <atomic>
#include <future>
#include <vector>

namespace fairlead {
namespace {

TEST(Worker, RunsInOrder) {
  std::vector<int> seen;
  std::promise<void> done;
  Worker worker;
  for (int i = 0; i < 1'000; ++i) worker.post([&seen, i] { seen.push_back(i); });
  worker.post([&done] { done.set_value(); });
  done.get_future().wait();
  ASSERT_EQ(seen.size(), 1'000U);
  for (int i = 0; i < 1'000; ++i) EXPECT_EQ(seen[static_cast<size_t>(i)], i);
}

TEST(Worker, APosterOutlivesItsWorker) {
  std::optional<Worker> worker(std::in_place);
  const auto post = worker->poster();
  EXPECT_TRUE(post([] {}));
  worker.reset();
  EXPECT_FALSE(post([] { FAIL() << "ran after the end"; }));
}

TEST(Worker, IdleRunsWhileNothingComes) {
  std::atomic<int> turns{0};
  std::promise<void> thrice;
  {
    Worker worker(std::chrono::milliseconds(1), [&] {
      if (++turns == 3) thrice.set_value();
    });
    EXPECT_EQ(thrice.get_future().wait_for(std::chrono::seconds(10)), std::future_status::ready);
  }
  const int at_end = turns;
  EXPECT_GE(at_end, 3);
}

}  // namespace
}  // namespace fairlead
