#include "daemon/ledger/sqlite/writer.h"

#include <utility>

#include "daemon/ledger/head_file.h"
#include "daemon/ledger/sqlite/suspicion.h"
#include "daemon/record/checkpoint.h"

namespace fairlead::ledger {
namespace {

constexpr std::chrono::seconds kWipeAgain{1};

int64_t wall_now_us() {
  using std::chrono::duration_cast;
  return duration_cast<std::chrono::microseconds>(
             std::chrono::system_clock::now().time_since_epoch())
      .count();
}

}  // namespace

Writer::Writer(Store store, const Options& options, std::optional<SignedHead> head)
    : store_(std::move(store)),
      options_(options),
      may_sign_(options.sign_at_once),
      size_(store_.size()),
      chains_(store_.chains().current()),
      head_(std::move(head)) {}

Writer::~Writer() {
  {
    const std::scoped_lock lock(mutex_);
    stopping_ = true;
  }
  wake_.notify_all();
  if (thread_.joinable()) thread_.join();
  if (!failure().empty()) store_.leave_files_alone();
}

void Writer::post(Work work) {
  {
    const std::scoped_lock lock(mutex_);
    queued_entries_ += work.entries;
    urgent_ = urgent_ || work.urgent;
    queue_.push_back(std::move(work));
  }
  wake_.notify_all();
}

void Writer::post_lazily(Work work) {
  const std::scoped_lock lock(mutex_);
  queue_.push_back(std::move(work));
}

void Writer::loop() {
  for (;;) {
    std::unique_lock lock(mutex_);
    auto group = next_group(lock);
    const bool last = stopping_ && group.empty() && queue_.empty();
    const bool asked = std::exchange(sign_now_, false);
    lock.unlock();
    if (group.empty()) {
      wipe_if_due();
    } else {
      run_group(group);
    }
    sign_if_due(last || asked);
    if (last) return;
  }
}

// Waits for work, a head that is due, or the end.
std::vector<Work> Writer::next_group(std::unique_lock<std::mutex>& lock) {
  const auto ready = [&] { return !queue_.empty() || stopping_ || sign_now_; };
  const bool head_waits =
      options_.signer && may_sign_ && frozen_.empty() && size_ > (head_ ? head_->size : 0);
  if (head_waits && failure_.empty()) {
    wake_.wait_until(lock, last_head_ + options_.head_after, ready);
  } else if (wipe_due_ && failure_.empty()) {
    wake_.wait_for(lock, kWipeAgain, ready);
  } else {
    wake_.wait(lock, ready);
  }
  const auto full = [&] {
    return urgent_ || stopping_ || sign_now_ || queued_entries_ >= options_.most_in_group;
  };
  if (!queue_.empty()) wake_.wait_until(lock, last_commit_ + options_.linger, full);
  std::vector<Work> group;
  size_t entries = 0;
  while (!queue_.empty() &&
         (group.empty() || entries + queue_.front().entries <= options_.most_in_group)) {
    entries += queue_.front().entries;
    group.push_back(std::move(queue_.front()));
    queue_.pop_front();
  }
  queued_entries_ -= entries;
  urgent_ = urgent_ && !queue_.empty();
  return group;
}

Status Writer::run_all(std::vector<Work>& group, int64_t now_us) {
  Status done = store_.begin();
  for (auto& work : group) {
    if (!done) break;
    done = work.run(store_, now_us);
  }
  if (!done) {
    store_.rollback();
    return done;
  }
  return store_.commit();
}

void Writer::run_group(std::vector<Work>& group) {
  Status done = failure().empty() ? may_take() : fail(Code::kIo, failure());
  const uint64_t first = store_.size();
  if (done) {
    done = run_all(group, wall_now_us());
    // A full disk breaks nothing; everything else means the disk cannot be trusted with an answer.
    if (!done && done.error().code != Code::kUnavailable) fail_for_good(done.error());
  }
  if (done) {
    publish();
    for (auto& work : group) {
      if (work.after_commit) work.after_commit();
      if (!work.wipe) continue;
      const std::scoped_lock lock(mutex_);
      wipe_due_ = true;
    }
    wipe_if_due();
  }
  for (auto& work : group) work.answer(done);
  if (!done) return;
  if (store_.size() > first) {
    for (const auto& watcher : watchers_.committed) watcher(first, store_.size() - 1);
  }
  const auto copied = store_.checkpoint_if_grown();
  // A disk too full to copy the log keeps the log: nothing is lost, and it is tried again.
  if (!copied && copied.error().code != Code::kUnavailable) fail_for_good(copied.error());
}

void Writer::wipe_if_due() {
  if (wiped() || !failure().empty()) return;
  const auto done = store_.wipe_log();
  if (!done && done.error().code != Code::kUnavailable) fail_for_good(done.error());
  const std::scoped_lock lock(mutex_);
  wipe_due_ = !done.value_or(false);
}

bool Writer::wiped() const {
  const std::scoped_lock lock(mutex_);
  return !wipe_due_;
}

void Writer::publish() {
  const std::scoped_lock lock(mutex_);
  size_ = store_.size();
  chains_ = store_.chains().current();
  last_commit_ = Clock::now();
}

bool Writer::head_due(Clock::time_point now) const {
  const std::scoped_lock lock(mutex_);
  return options_.signer && may_sign_ && failure_.empty() && frozen_.empty() &&
         size_ > (head_ ? head_->size : 0) && now >= last_head_ + options_.head_after;
}

void Writer::sign_if_due(bool now) {
  std::vector<std::promise<Result<SignedHead>>> waiters;
  {
    const std::scoped_lock lock(mutex_);
    waiters = std::exchange(head_waiters_, {});
    if (now || !waiters.empty()) last_head_ = {};
  }
  if (head_due(Clock::now())) {
    const record::Checkpoint checkpoint{options_.signer->log.name, store_.edge().size(),
                                        store_.edge().root()};
    auto note = record::sign_checkpoint(checkpoint, options_.signer->log, *options_.signer->secret);
    if (note) {
      save_and_show({checkpoint.size, checkpoint.root, *note});
    } else {
      fail_for_good(note.error());
    }
  }
  for (auto& waiter : waiters) {
    const auto newest = head();
    const std::string broken = failure();
    const Status frozen = may_take();
    if (!frozen) {
      waiter.set_value(std::unexpected(frozen.error()));
    } else if (!broken.empty()) {
      waiter.set_value(fail(Code::kIo, broken));
    } else if (newest && newest->size == size()) {
      waiter.set_value(*newest);
    } else {
      waiter.set_value(fail(Code::kUnavailable,
                            "head: nothing may be signed yet; wait until a truck or the "
                            "countersigner has shown its newest head, or start with --alone"));
    }
  }
}

void Writer::save_and_show(const SignedHead& head) {
  // On disk before anyone may have seen it: only then a restored database cannot deny it.
  const Status saved = save_head(options_.head_file, head);
  if (!saved && saved.error().code != Code::kUnavailable) return fail_for_good(saved.error());
  {
    const std::scoped_lock lock(mutex_);
    last_head_ = Clock::now();  // Of a disk too full to write: tried again then.
    if (!saved) return;
    head_ = head;
  }
  for (const auto& watcher : watchers_.head) watcher(head);
}

void Writer::fail_for_good(const Error& error) {
  {
    const std::scoped_lock lock(mutex_);
    if (failure_.empty()) failure_ = error.message;
  }
  mark_suspect(options_.folder);
  wake_.notify_all();
}

std::string Writer::failure() const {
  const std::scoped_lock lock(mutex_);
  return failure_;
}

uint64_t Writer::size() const {
  const std::scoped_lock lock(mutex_);
  return size_;
}

std::vector<Chain> Writer::chains() const {
  const std::scoped_lock lock(mutex_);
  return chains_;
}

std::optional<SignedHead> Writer::head() const {
  const std::scoped_lock lock(mutex_);
  return head_;
}

void Writer::allow_signing() {
  {
    const std::scoped_lock lock(mutex_);
    may_sign_ = true;
  }
  wake_.notify_all();
}

void Writer::freeze(const std::string& words) {
  const std::scoped_lock lock(mutex_);
  frozen_ = words;
}

Status Writer::may_take() const {
  const std::scoped_lock lock(mutex_);
  return frozen_.empty() ? Status{} : fail(Code::kUnavailable, frozen_);
}

Result<SignedHead> Writer::sign_now() {
  std::future<Result<SignedHead>> signed_head;
  {
    const std::scoped_lock lock(mutex_);
    head_waiters_.emplace_back();
    signed_head = head_waiters_.back().get_future();
    sign_now_ = true;
  }
  wake_.notify_all();
  return signed_head.get();
}

void Writer::watch_commits(std::function<void(uint64_t, uint64_t)> callback) {
  const std::scoped_lock lock(mutex_);
  watchers_.committed.push_back(std::move(callback));
}

void Writer::watch_heads(std::function<void(const SignedHead&)> callback) {
  const std::scoped_lock lock(mutex_);
  watchers_.head.push_back(std::move(callback));
}

}  // namespace fairlead::ledger
