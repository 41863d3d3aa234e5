#include "daemon/watch/recorder.h"

#include <cstdlib>
#include <deque>

#include "daemon/base/time_text.h"
#include "daemon/watch/job_id.h"

namespace fairlead::watch {
namespace {

constexpr size_t kMostPending = 512;
constexpr int64_t kClockStepUs = 2'000'000;
constexpr uint64_t kKeepEvery = 200;
constexpr int64_t kAgainEveryUs = 1'000'000;

bool is_sampled(const v1::Observation& line) { return line.has_sample() || line.has_fix(); }

}  // namespace

struct Recorder::Pending {
  std::mutex mutex;
  std::condition_variable done;
  // Entries handed to the ledger and entries it has answered for, in the same order.
  uint64_t written = 0, durable = 0;
  uint64_t last_leaf = 0, last_seq = 0;
  // When so many are durable, last_seq goes to seq_at_wanted (0: not yet).
  uint64_t wanted = 0, seq_at_wanted = 0;
  std::vector<uint64_t> stray;  // Entries that Numbering has to find again.
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
      numbering_(ledger, options_.device_id),
      pending_(std::make_shared<Pending>()) {}

Recorder::~Recorder() = default;

Status Recorder::start(const std::string& version) {
  {
    const std::lock_guard lock(mutex_);
    if (auto ok = numbering_.load(); !ok) return ok;
    anchor_wall_us_ = options_.clocks.wall_us();
    anchor_mono_us_ = options_.clocks.mono_us();
    if (auto ok = compare_with_last_entry(); !ok) return ok;
  }
  v1::StartBody body;
  body.set_version(version);
  body.set_clean(true);
  body.set_alone(options_.alone);
  append(record::Kind::kStart, body.SerializeAsString());
  const Status durable = wait_durable();
  // A full disk: it goes on record as soon as there is room.
  if (!durable && durable.error().code == Code::kUnavailable) return {};
  return durable;
}

// Across a start nothing says how long the machine was off, but time does not run back.
Status Recorder::compare_with_last_entry() {
  const auto mark = ledger_.watermark(options_.device_id);
  if (!mark || mark->seq == 0) return {};
  const auto last = ledger_.device_entries(options_.device_id, mark->epoch, mark->seq, 1, false);
  if (!last) return std::unexpected(last.error());
  if (last->empty()) return {};
  const int64_t before_us = last->front().header().wall_us;
  if (before_us - anchor_wall_us_ <= kClockStepUs) return {};
  write_clock(before_us, anchor_wall_us_, anchor_mono_us_,
              "behind the last entry before this start");
  return {};
}

Status Recorder::stop(const std::string& cause) {
  {
    const std::lock_guard lock(mutex_);
    write(packer_.flush());
    v1::StopBody body;
    body.set_cause(cause);
    write_one(record::Kind::kStop, {}, body.SerializeAsString(), true);
  }
  if (auto ok = wait_durable(); !ok) return ok;
  const std::lock_guard lock(mutex_);
  numbers_.reset();
  keep_numbering(true);
  return {};
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
      if (auto ok = numbering_.know(line.job()); !ok) return std::unexpected(ok.error());
      if (!numbering_.notice(line)) {
        ++fed.duplicates;
        continue;
      }
      if (auto ok = take(line); !ok) {
        numbering_.forget(line);  // Refused: fed again, it must not pass for one that is on record.
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
  // A ledger that cannot be read stops the daemon soon; until then the line is worth more.
  if (!line.job().empty()) (void)numbering_.know(line.job());
  numbering_.number(line);
  if (line.job().empty()) note_missing(line);
  (void)take(line);
}

Result<uint64_t> Recorder::say_now(v1::Observation line) {
  {
    const std::lock_guard lock(mutex_);
    if (line.clock().empty()) line.set_clock(options_.clock);
    if (!line.job().empty()) {
      if (auto ok = numbering_.know(line.job()); !ok) return std::unexpected(ok.error());
    }
    numbering_.number(line);
    if (auto ok = take(line); !ok) return std::unexpected(ok.error());
    write(packer_.flush());
  }
  if (auto ok = wait_durable(); !ok) return std::unexpected(ok.error());
  const std::lock_guard lock(pending_->mutex);
  return pending_->last_leaf;
}

void Recorder::learn(std::span<const v1::Observation> lines) {
  const std::lock_guard lock(mutex_);
  for (const v1::Observation& line : lines) {
    // What the disk still has of the job comes first. Without a job only the numbers matter, and
    // knowing those lines would mean to keep a digest of every sample from then on.
    if (!line.job().empty()) (void)numbering_.know(line.job());
    (void)numbering_.notice(line);
  }
}

void Recorder::say_unknown(const std::string& cause) {
  std::vector<std::string> sources;
  {
    const std::lock_guard lock(mutex_);
    sources = numbering_.sources_without_job();
  }
  for (const std::string& source : sources) {
    v1::Observation line;
    line.set_time(format_time_us(options_.clocks.wall_us()));
    line.set_source(source);
    line.mutable_gap()->set_channel(source);
    line.mutable_gap()->set_cause(cause);
    say(std::move(line));
  }
}

void Recorder::append(record::Kind kind, const std::string& body) {
  const std::lock_guard lock(mutex_);
  write_one(kind, {}, body, true);
}

void Recorder::tick() {
  const std::lock_guard lock(mutex_);
  check_clock();
  write(packer_.due(options_.clocks.mono_us()));
  keep_numbering(false);
  send_again();
}

void Recorder::pause_samples(bool pause) {
  const std::lock_guard lock(mutex_);
  if (pause == paused_) return;
  write(packer_.close_strip());
  paused_ = pause;
  if (pause) {
    paused_since_us_ = options_.clocks.wall_us();
    lost_samples_ = 0;
    say_gap(std::nullopt);
  } else {
    say_gap(options_.clocks.wall_us());
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

// A line too large for a body was refused before: the reader caps lines at that size.
Status Recorder::take(const v1::Observation& line) {
  if (paused_ && is_sampled(line)) {
    ++lost_samples_;
    return {};
  }
  if (line.has_opened() && options_.pins) packer_.set_pins(options_.pins(line.opened()));
  const bool stray = numbering_.is_stray(line);
  auto bodies = packer_.add(line, options_.clocks.mono_us());
  if (!bodies) return std::unexpected(bodies.error());
  numbering_.follow(line);
  stray_ = stray_ || stray;
  if (options_.on_line) options_.on_line(line);
  write(std::move(*bodies));
  if (line.has_opened()) repeat_missing();
  return {};
}

// What this device's sensors last said of themselves; what they read ends it.
void Recorder::note_missing(const v1::Observation& line) {
  const auto at = [&](const std::string& channel) { return std::pair(line.source(), channel); };
  if (line.has_gap()) {
    missing_[at(line.gap().channel())].gap = line;
  } else if (line.has_sensor() && line.sensor().state().starts_with("missing")) {
    missing_[at(line.sensor().channel())].sensor = line;
  } else if (line.has_sensor()) {
    missing_.erase(at(line.sensor().channel()));
  } else if (line.has_sample() || line.has_fix()) {
    missing_.erase(at(line.has_fix() ? "fix" : line.sample().signal()));
  }
}

// A sensor that was missing before a job opened said so before the job: said again inside it, so
// that whoever holds the job's entries alone sees it.
void Recorder::repeat_missing() {
  const auto missing = missing_;
  for (const auto& [channel, last] : missing) {
    for (const auto* said : {&last.sensor, &last.gap}) {
      if (!*said) continue;
      v1::Observation line = **said;
      line.set_time(format_time_us(options_.clocks.wall_us()));
      numbering_.number(line);
      (void)take(line);
    }
  }
}

void Recorder::write(std::vector<record::PackedBody> bodies) {
  for (record::PackedBody& body : bodies) {
    write_one(body.kind, job_id_of(body.job), std::move(body.body), body.urgent);
  }
  if (!bodies.empty() && !packer_.next_due_us()) stray_ = false;
}

void Recorder::write_one(record::Kind kind, const record::Id16& job, std::string body,
                         bool urgent) {
  if (kind != record::Kind::kClock) check_clock();
  ledger::OwnEntry own;
  own.header.kind = kind;
  own.header.device_id = options_.device_id;
  own.header.job_id = job;
  stamp(own.header, options_.clocks);
  if (options_.seen_head) {
    const record::Checkpoint head = options_.seen_head();
    own.header.seen_size = head.size;
    if (head.size > 0) {
      own.header.seen_root = head.root;
      own.header.ledger_id = record::ledger_id_of(head.origin);
    }
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
      [pending = pending_, own,
       stray = stray_](const Result<std::vector<ledger::AppendResult>>& results) {
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
          const auto header = record::decode_header(results->front().entry);
          pending->last_seq = header ? header->seq : 0;
          if (stray) pending->stray.push_back(pending->last_seq);
          if (pending->durable == pending->wanted) pending->seq_at_wanted = pending->last_seq;
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
    const int64_t now_us = options_.clocks.mono_us();
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
          for (const ledger::AppendResult& result : *results) {
            // Which of them were stray is not kept: read again, none does harm.
            const auto header = record::decode_header(result.entry);
            if (header) pending->stray.push_back(header->seq);
          }
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
  const int64_t wall = options_.clocks.wall_us(), mono = options_.clocks.mono_us();
  const int64_t expected = anchor_wall_us_ + (mono - anchor_mono_us_);
  if (std::llabs(wall - expected) > kClockStepUs) write_clock(expected, wall, mono, "unknown");
}

void Recorder::write_clock(int64_t expected_us, int64_t wall_us, int64_t mono_us,
                           const char* cause) {
  anchor_wall_us_ = wall_us;
  anchor_mono_us_ = mono_us;
  v1::ClockBody body;
  body.set_expected_wall_us(expected_us);
  body.set_wall_us(wall_us);
  body.set_mono_us(static_cast<uint64_t>(mono_us));
  body.set_cause(cause);
  write_one(record::Kind::kClock, {}, body.SerializeAsString(), true);
}

// In two steps: what the numbers count in when nothing is left to pack, and once that is durable.
void Recorder::keep_numbering(bool now) {
  std::optional<v1::NumberingState> ready;
  uint64_t through_seq = 0;
  {
    const std::lock_guard lock(pending_->mutex);
    for (const uint64_t seq : pending_->stray) numbering_.add_stray(seq);
    pending_->stray.clear();
    if (pending_->failed || !pending_->again.empty()) return;
    // The entry waited for met a full disk and is stored under a later number: taken anew.
    if (pending_->durable >= pending_->wanted && pending_->seq_at_wanted == 0) numbers_.reset();
    const bool due = now || pending_->written >= kept_at_ + kKeepEvery;
    if (due && !numbers_ && !packer_.next_due_us()) {
      numbers_ = numbering_.numbers();
      kept_at_ = pending_->wanted = pending_->written;
      pending_->seq_at_wanted = pending_->durable == pending_->written ? pending_->last_seq : 0;
    }
    if (numbers_ && pending_->seq_at_wanted > 0) {
      ready = std::exchange(numbers_, std::nullopt);
      through_seq = pending_->seq_at_wanted;
    }
  }
  // Lost, it costs the next start a longer look.
  if (ready) (void)numbering_.keep(std::move(*ready), through_seq);
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
