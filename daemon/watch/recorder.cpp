#include "daemon/watch/recorder.h"

#include <cstdlib>
#include <cstring>
#include <deque>

#include "daemon/record/observation_json.h"
#include "daemon/record/strip.h"
#include "daemon/watch/job_id.h"
#include "daemon/watch/stamp.h"

namespace fairlead::watch {
namespace {

constexpr size_t kMostPending = 512;
constexpr int64_t kClockStepUs = 2'000'000;
constexpr int64_t kAgainEveryUs = 1'000'000;

bool is_sampled(const v1::Observation& line) { return line.has_sample() || line.has_fix(); }

// Content as it will come back from the record: samples and fixes in their resolution.
uint64_t digest_of(const v1::Observation& line) {
  const bool strip = line.has_sample() || line.has_fix();
  const Hash hash = sha256(record::observation_to_line(strip ? record::quantised(line) : line));
  return get_be<uint64_t>(hash.data());
}

}  // namespace

struct Recorder::Pending {
  std::mutex mutex;
  std::condition_variable done;
  // Entries handed to the ledger and entries it has answered for, in the same order.
  uint64_t written = 0, durable = 0;
  uint64_t last_leaf = 0;
  std::optional<Error> failed;
  // What a full disk refused, oldest first; while there is any, everything newer queues behind it.
  std::deque<std::shared_ptr<const ledger::OwnEntry>> again;
  std::optional<Error> full;
  bool sending_again = false;
  int64_t again_at_us = 0;
};

Recorder::Recorder(ledger::Ledger& ledger, RecorderOptions options)
    : ledger_(ledger),
      options_(std::move(options)),
      packer_(options_.limits),
      pending_(std::make_shared<Pending>()) {}

Recorder::~Recorder() = default;

Status Recorder::start(const std::string& version) {
  if (auto ok = load(); !ok) return ok;
  anchor_wall_us_ = wall_now_us();
  anchor_mono_us_ = mono_now_us();
  v1::StartBody body;
  body.set_version(version);
  body.set_clean(true);
  append(record::Kind::kStart, body.SerializeAsString());
  const Status durable = wait_durable();
  // A full disk: it goes on record as soon as there is room.
  if (!durable && durable.error().code == Code::kUnavailable) return {};
  return durable;
}

Status Recorder::load() {
  constexpr size_t kPage = 256;
  const std::lock_guard lock(mutex_);
  for (uint64_t from = 1;;) {
    const auto page = ledger_.device_entries(options_.device_id, options_.epoch, from, kPage, true);
    if (!page) return std::unexpected(page.error());
    for (const ledger::StoredEntry& entry : *page) {
      const auto header = entry.header();
      from = header.seq + 1;
      if (entry.body_state != ledger::BodyState::kHere) continue;
      const auto lines = record::observations_of(header.kind, entry.body);
      if (!lines) return fail_at("own entry " + std::to_string(header.seq) + ": ", lines.error());
      for (const v1::Observation& line : *lines) (void)notice(line);
    }
    if (page->size() < kPage) return {};
  }
}

Status Recorder::stop(const std::string& cause) {
  {
    const std::lock_guard lock(mutex_);
    write(packer_.flush());
    v1::StopBody body;
    body.set_cause(cause);
    write_one(record::Kind::kStop, {}, body.SerializeAsString(), true);
  }
  return wait_durable();
}

Result<Fed> Recorder::feed(std::span<const v1::Observation> lines) {
  if (auto full = held_up()) return std::unexpected(std::move(*full));
  Fed fed;
  {
    const std::lock_guard lock(mutex_);
    for (const v1::Observation& line : lines) {
      if (paused_ && is_sampled(line)) {
        return fail(Code::kUnavailable,
                    "disk: what is free is kept for events; send samples again later");
      }
      if (!notice(line)) {
        ++fed.duplicates;
        continue;
      }
      if (auto ok = take(line); !ok) {
        forget(line);  // Refused: fed again, it must not pass for one that is on record.
        return std::unexpected(ok.error());
      }
      ++fed.recorded;
    }
    // "Recorded" is only said of what is on disk, so a strip does not stay open behind an answer.
    write(packer_.flush());
  }
  if (auto ok = wait_durable(); !ok) return std::unexpected(ok.error());
  return fed;
}

bool Recorder::offer(v1::Observation line) {
  {
    const std::lock_guard lock(pending_->mutex);
    if (pending_->written - pending_->durable > kMostPending || pending_->failed) return false;
    if (!pending_->again.empty()) return false;
  }
  say(std::move(line));
  return true;
}

void Recorder::say(v1::Observation line) {
  const std::lock_guard lock(mutex_);
  if (line.clock().empty()) line.set_clock(options_.clock);
  number(line);
  (void)take(line);
}

Result<uint64_t> Recorder::say_now(v1::Observation line) {
  {
    const std::lock_guard lock(mutex_);
    if (line.clock().empty()) line.set_clock(options_.clock);
    number(line);
    if (auto ok = take(line); !ok) return std::unexpected(ok.error());
    write(packer_.flush());
  }
  if (auto ok = wait_durable(); !ok) return std::unexpected(ok.error());
  const std::lock_guard lock(pending_->mutex);
  return pending_->last_leaf;
}

void Recorder::append(record::Kind kind, const std::string& body) {
  const std::lock_guard lock(mutex_);
  write_one(kind, {}, body, true);
}

void Recorder::tick() {
  const std::lock_guard lock(mutex_);
  check_clock();
  write(packer_.due(mono_now_us()));
  send_again();
}

void Recorder::pause_samples(bool pause) {
  const std::lock_guard lock(mutex_);
  if (pause == paused_) return;
  write(packer_.close_strip());
  paused_ = pause;
  if (pause) {
    paused_since_us_ = wall_now_us();
    lost_samples_ = 0;
    say_gap(std::nullopt);
  } else {
    say_gap(wall_now_us());
  }
}

void Recorder::say_gap(std::optional<int64_t> until_us) {
  v1::GapBody body;
  body.set_channel("samples");
  body.set_cause("disk full");
  body.set_from_us(paused_since_us_);
  if (until_us) {
    body.set_until_us(*until_us);
    body.set_lost(lost_samples_);
  }
  write_one(record::Kind::kGap, {}, body.SerializeAsString(), true);
}

Recorder::Source& Recorder::source_of(const v1::Observation& line) {
  return sources_[{line.job(), line.source()}];
}

bool Recorder::notice(const v1::Observation& line) {
  Source& source = source_of(line);
  const uint64_t digest = digest_of(line);
  const auto [it, fresh] = source.seen.try_emplace(line.seq(), digest);
  source.last = std::max(source.last, line.seq());
  return fresh || it->second != digest;
}

void Recorder::forget(const v1::Observation& line) {
  auto& seen = source_of(line).seen;
  // Of two lines with one number the first may be on record: that one stays known.
  if (const auto it = seen.find(line.seq()); it != seen.end() && it->second == digest_of(line))
    seen.erase(it);
}

void Recorder::number(v1::Observation& line) { line.set_seq(++source_of(line).last); }

// A line too large for a body was refused before: the reader caps lines at that size.
Status Recorder::take(const v1::Observation& line) {
  if (paused_ && is_sampled(line)) {
    ++lost_samples_;
    return {};
  }
  if (line.has_opened() && options_.pins) packer_.set_pins(options_.pins(line.opened()));
  auto bodies = packer_.add(line, mono_now_us());
  if (!bodies) return std::unexpected(bodies.error());
  if (options_.on_line) options_.on_line(line);
  write(std::move(*bodies));
  return {};
}

void Recorder::write(std::vector<record::PackedBody> bodies) {
  for (record::PackedBody& body : bodies) {
    write_one(body.kind, job_id_of(body.job), std::move(body.body), body.urgent);
  }
}

void Recorder::write_one(record::Kind kind, const record::Id16& job, std::string body,
                         bool urgent) {
  ledger::OwnEntry own;
  own.header.kind = kind;
  own.header.device_id = options_.device_id;
  own.header.job_id = job;
  stamp(own.header);
  if (options_.seen_head) {
    const record::Checkpoint head = options_.seen_head();
    own.header.seen_size = head.size;
    if (head.size > 0) own.header.seen_root = head.root;
  }
  own.body = std::move(body);
  own.key = options_.key;
  send(std::make_shared<const ledger::OwnEntry>(std::move(own)), urgent);
}

void Recorder::send(std::shared_ptr<const ledger::OwnEntry> own, bool urgent) {
  {
    const std::lock_guard lock(pending_->mutex);
    if (!pending_->again.empty()) {
      pending_->again.push_back(std::move(own));
      return;
    }
    ++pending_->written;
  }
  ledger_.append_own(
      {*own},
      [pending = pending_, own](const Result<std::vector<ledger::AppendResult>>& results) {
        const std::lock_guard lock(pending->mutex);
        ++pending->durable;
        if (!results && results.error().code == Code::kUnavailable) {
          pending->full = results.error();
          pending->again.push_back(own);
        } else if (!results) {
          pending->failed = results.error();
        } else if (results->front().outcome == ledger::Outcome::kRefused) {
          pending->failed =
              Error{Code::kInternal, "the own ledger refused an entry: " + results->front().words};
        } else {
          pending->last_leaf = results->front().leaf;
        }
        pending->done.notify_all();
      },
      urgent);
}

// All that waits goes as one batch: it is taken whole or not at all, so the order stays.
void Recorder::send_again() {
  constexpr size_t kMostAgain = 64;
  std::vector<ledger::OwnEntry> batch;
  {
    const std::lock_guard lock(pending_->mutex);
    const int64_t now_us = mono_now_us();
    const bool under_way = pending_->sending_again || pending_->written > pending_->durable;
    if (pending_->again.empty() || under_way || now_us < pending_->again_at_us) return;
    pending_->again_at_us = now_us + kAgainEveryUs;
    pending_->sending_again = true;
    for (const auto& own : pending_->again) {
      if (batch.size() == kMostAgain) break;
      batch.push_back(*own);
    }
  }
  const size_t count = batch.size();
  ledger_.append_own(
      std::move(batch),
      [pending = pending_, count](const Result<std::vector<ledger::AppendResult>>& results) {
        const std::lock_guard lock(pending->mutex);
        pending->sending_again = false;
        if (!results && results.error().code != Code::kUnavailable) {
          pending->failed = results.error();
        } else if (results) {
          pending->again.erase(pending->again.begin(),
                               pending->again.begin() + static_cast<std::ptrdiff_t>(count));
          pending->again_at_us = 0;
          pending->last_leaf = results->back().leaf;
        }
        pending->done.notify_all();
      },
      true);
}

std::optional<Error> Recorder::held_up() const {
  const std::lock_guard lock(pending_->mutex);
  return pending_->again.empty() ? std::nullopt : pending_->full;
}

// A wall clock that moved against the monotonic one inside this boot is recorded, never refused.
void Recorder::check_clock() {
  const int64_t wall = wall_now_us(), mono = mono_now_us();
  const int64_t expected = anchor_wall_us_ + (mono - anchor_mono_us_);
  if (std::llabs(wall - expected) <= kClockStepUs) return;
  v1::ClockBody body;
  body.set_expected_wall_us(expected);
  body.set_wall_us(wall);
  body.set_mono_us(static_cast<uint64_t>(mono));
  body.set_cause("unknown");
  write_one(record::Kind::kClock, {}, body.SerializeAsString(), true);
  anchor_wall_us_ = wall;
  anchor_mono_us_ = mono;
}

Status Recorder::wait_durable() {
  std::unique_lock lock(pending_->mutex);
  pending_->done.wait(lock, [this, upto = pending_->written] {
    return pending_->durable >= upto || pending_->failed;
  });
  if (pending_->failed) return std::unexpected(*pending_->failed);
  if (!pending_->again.empty()) return std::unexpected(*pending_->full);
  return {};
}

}  // namespace fairlead::watch
