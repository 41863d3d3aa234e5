#include "daemon/watch/scrubber.h"

#include <fmt/format.h>

#include <charconv>

#include "daemon/watch/stamp.h"

namespace fairlead::watch {
namespace {

constexpr const char* kDoneValue = "scrub_done_us";

}  // namespace

Scrubber::Scrubber(ledger::Ledger& ledger, ScrubOptions options)
    : ledger_(ledger), options_(std::move(options)), thread_([this] { loop(); }) {}

Scrubber::~Scrubber() {
  {
    const std::scoped_lock lock(mutex_);
    stopping_ = true;
  }
  wake_.notify_all();
  thread_.join();
}

// The first reading is due one span after the ledger was first opened.
int64_t Scrubber::due_us() {
  int64_t done_us = 0;
  if (const auto text = ledger_.value(kDoneValue)) {
    std::from_chars(text->data(), text->data() + text->size(), done_us);
  }
  const int64_t now_us = wall_now_us();
  if (done_us <= 0 || done_us > now_us) {  // Also a clock that was set back.
    done_us = now_us;
    (void)ledger_.put_value(kDoneValue, std::to_string(done_us));
  }
  return done_us + options_.every.count();
}

void Scrubber::loop() {
  constexpr std::chrono::minutes kLook{1};
  for (;;) {
    const int64_t wait_us = due_us() - wall_now_us();
    std::unique_lock lock(mutex_);
    if (wait_us > 0) {
      wake_.wait_for(lock,
                     std::min<std::chrono::microseconds>(kLook, std::chrono::microseconds(wait_us)),
                     [this] { return stopping_; });
    }
    if (stopping_) return;
    if (wait_us > 0) continue;
    lock.unlock();
    const auto report = read(options_.share);
    if (report) continue;
    if (options_.log) options_.log("scrub: " + report.error().message);
    lock.lock();
    if (wake_.wait_for(lock, kLook, [this] { return stopping_; })) return;
  }
}

Result<ledger::AuditReport> Scrubber::read_all() { return read(1); }

Result<ledger::AuditReport> Scrubber::read(double share) {
  const std::scoped_lock one(reading_);
  {
    const std::scoped_lock lock(mutex_);
    state_.running = true;
    state_.progress = {0, ledger_.size(), 0};
  }
  ledger::AuditOptions options;
  options.share = share;
  options.progress = [this](const ledger::AuditProgress& progress) {
    const std::scoped_lock lock(mutex_);
    state_.progress = progress;
    return !stopping_;
  };
  auto report = ledger_.audit(options);
  const int64_t now_us = wall_now_us();
  {
    const std::scoped_lock lock(mutex_);
    state_.running = false;
    if (report) {
      state_.last_done_us = now_us;
      state_.problems = report->problems;
    }
  }
  if (!report) return report;
  (void)ledger_.put_value(kDoneValue, std::to_string(now_us));
  tell(report->problems);
  return report;
}

void Scrubber::tell(const std::vector<std::string>& problems) {
  for (const std::string& problem : problems) {
    if (!told_.insert(problem).second) continue;
    if (options_.log) options_.log("DAMAGED: " + problem);
    if (options_.damaged) options_.damaged(problem);
  }
}

ScrubState Scrubber::state() const {
  const std::scoped_lock lock(mutex_);
  return state_;
}

}  // namespace fairlead::watch
