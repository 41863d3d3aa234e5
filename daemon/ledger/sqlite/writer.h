// The one thread that writes: takes work from a queue, commits it in groups, then answers; signs a
// head at most a second after growth.
//
// A group closes when the queue is empty and the last commit is at least the linger ago, at the
// linger's end otherwise, or with 256 entries: alone an entry waits for nothing, under load the
// disk's sync is shared. Threads: `post` from any; the callbacks inside the work run on the
// writer's thread.
#pragma once

#include <chrono>
#include <condition_variable>
#include <deque>
#include <functional>
#include <future>
#include <mutex>
#include <thread>

#include "daemon/ledger/sqlite/open.h"
#include "daemon/ledger/sqlite/store.h"

namespace fairlead::ledger {

/// One piece of work. `run` acts inside the transaction; `answer` follows with how it ended.
struct Work {
  size_t entries = 0;
  bool urgent = false;
  std::function<Status(Store&, int64_t now_us)> run;
  std::function<void(const Status& committed)> answer;
  /// After the commit, before any answer.
  std::function<void()> after_commit;
  /// Deleted bytes must be gone from the log before the answer.
  bool wipe = false;
};

class Writer {
 public:
  struct Watchers {
    std::vector<std::function<void(uint64_t, uint64_t)>> committed;
    std::vector<std::function<void(const SignedHead&)>> head;
  };

  Writer(Store store, const Options& options, std::optional<SignedHead> head);
  /// Finishes the queue, signs a last head.
  ~Writer();
  void start() {
    thread_ = std::thread([this] { loop(); });
  }

  void post(Work work);
  /// Runs with the next group that has something else to do.
  void post_lazily(Work work);
  [[nodiscard]] std::string failure() const;
  /// The disk cannot be trusted any more: nothing is acknowledged from here on. Any thread.
  void fail_for_good(const Error& error);
  /// False while deleted bytes still stand in the log.
  [[nodiscard]] bool wiped() const;
  [[nodiscard]] uint64_t size() const;
  [[nodiscard]] std::vector<Chain> chains() const;
  [[nodiscard]] std::optional<SignedHead> head() const;
  void allow_signing();
  void freeze(const std::string& words);
  /// Waits until the tree as it is now has a published head.
  [[nodiscard]] Result<SignedHead> sign_now();
  void watch_commits(std::function<void(uint64_t, uint64_t)> callback);
  void watch_heads(std::function<void(const SignedHead&)> callback);

 private:
  using Clock = std::chrono::steady_clock;

  void loop();
  [[nodiscard]] std::vector<Work> next_group(std::unique_lock<std::mutex>& lock);
  void run_group(std::vector<Work>& group);
  [[nodiscard]] Status run_all(std::vector<Work>& group, int64_t now_us);
  void publish();
  [[nodiscard]] bool head_due(Clock::time_point now) const;
  void sign_if_due(bool now);
  [[nodiscard]] Status may_take() const;
  void save_and_show(const SignedHead& head);
  void wipe_if_due();

  Store store_;
  Options options_;

  mutable std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<Work> queue_;
  size_t queued_entries_ = 0;
  bool urgent_ = false, stopping_ = false, may_sign_ = false, sign_now_ = false;
  bool wipe_due_ = false;
  Clock::time_point last_commit_{}, last_head_{};
  std::string failure_, frozen_;
  // What readers see: as of the last commit.
  uint64_t size_ = 0;
  std::vector<Chain> chains_;
  std::optional<SignedHead> head_;
  Watchers watchers_;
  std::vector<std::promise<Result<SignedHead>>> head_waiters_;
  std::thread thread_;
};

}  // namespace fairlead::ledger
