// Makes observation lines the entries of one device's chain: a truck's own, or a base's import
// device. Numbers the lines of its own sources, knows repeats of fed lines, packs samples into
// strips, notices steps of the wall clock.
//
// A line's identity is (job, source, seq). The same line again is a duplicate; the same identity
// with other content is recorded too, and makes that source unknown from there on when it is
// judged. Threads: any.
#pragma once

#include <condition_variable>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/ledger/ledger.h"
#include "daemon/record/checkpoint.h"
#include "daemon/record/packer.h"
#include "daemon/watch/numbering.h"
#include "daemon/watch/stamp.h"

namespace fairlead::watch {

struct RecorderOptions {
  record::Id16 device_id{};
  std::shared_ptr<const SecretKey> key;
  /// `clock` of lines made here.
  std::string clock = "truck";
  record::PackerLimits limits;
  /// Newest head of the base this device knows; empty function: none.
  std::function<record::Checkpoint()> seen_head;
  /// Files in force for a job that opens with this line.
  std::function<std::vector<v1::Pin>(const v1::Opened&)> pins;
  /// The base signs without having asked anybody for a later head: said in START.
  bool alone = false;
  /// Every line as it is taken, before it is durable.
  std::function<void(const v1::Observation&)> on_line;
  Clocks clocks = {};
};

struct Fed {
  uint32_t recorded = 0, duplicates = 0;
};

class Recorder {
 public:
  Recorder(ledger::Ledger& ledger, RecorderOptions options);
  ~Recorder();

  /// Reads on where the numbering was kept and writes START; a wall clock that is behind the last
  /// entry before this start is recorded (CLOCK). Errors: of the ledger.
  [[nodiscard]] Status start(const std::string& version);
  /// Writes what is pending and STOP, and waits until it is durable.
  [[nodiscard]] Status stop(const std::string& cause);

  /// Takes checked lines and returns when all of them are durable. Errors: kIo; kUnavailable while
  /// the disk is full: then they may still be recorded later, and feeding them again does no harm.
  [[nodiscard]] Result<Fed> feed(std::span<const v1::Observation> lines);
  /// Takes a line of a source that this recorder numbers; false = too much is on its way to the
  /// disk, offer it again.
  [[nodiscard]] bool offer(v1::Observation line);
  /// The recorder's own words (a warning, an opening by order), numbered here, durable soon.
  void say(v1::Observation line);
  /// The same, and waits until it is durable; the leaf of the entry that holds it.
  [[nodiscard]] Result<uint64_t> say_now(v1::Observation line);
  /// Lines of this device that its disk had lost: known from now on, as if they were on disk here.
  void learn(std::span<const v1::Observation> lines);
  /// Of every source numbered here: nobody knows whether it said more between its last line and
  /// now.
  void say_unknown(const std::string& cause);
  /// Any other body of the device's own (IN_FORCE), durable soon.
  void append(record::Kind kind, const std::string& body);
  /// Closes what is due and tries again what a full disk refused; to be called every 50 ms or so.
  void tick();
  /// A truck without room: samples and fixes are counted instead of recorded, and a GAP says so at
  /// the beginning and the end. Fed ones are refused (kUnavailable).
  void pause_samples(bool pause);

 private:
  struct Pending;
  struct Missing {
    std::optional<v1::Observation> sensor, gap;
  };

  Status take(const v1::Observation& line);
  void note_missing(const v1::Observation& line);
  void repeat_missing();
  void write(std::vector<record::PackedBody> bodies);
  void write_one(record::Kind kind, const record::Id16& job, std::string body, bool urgent);
  /// What the ledger could not take goes again, in its order, before anything newer.
  void send_again();
  void send(std::shared_ptr<const ledger::OwnEntry> own, bool urgent);
  /// A full disk has refused something that still waits.
  [[nodiscard]] std::optional<Error> held_up() const;
  void say_gap(std::optional<int64_t> until_us);
  /// Writes CLOCK where the wall clock has moved against the monotonic one.
  void check_clock();
  void write_clock(int64_t expected_us, int64_t wall_us, int64_t mono_us, const char* cause);
  Status compare_with_last_entry();
  /// Keeps the numbering once in a while, at a moment when every line is in an entry.
  void keep_numbering(bool now);
  /// Waits until everything written so far is durable. Without the lock held.
  Status wait_durable();

  ledger::Ledger& ledger_;
  RecorderOptions options_;
  std::mutex mutex_;  // Order of numbering = order of appending.
  record::Packer packer_;
  Numbering numbering_;
  bool stray_ = false;  // What is packed holds a line outside its job's span.
  std::optional<v1::NumberingState> numbers_;  // To be kept once they are durable.
  uint64_t kept_at_ = 0;                       // Entries written when they were taken.
  std::map<std::pair<std::string, std::string>, Missing> missing_;  // By source and channel.
  int64_t anchor_wall_us_ = 0, anchor_mono_us_ = 0;
  bool paused_ = false;
  int64_t paused_since_us_ = 0;
  uint64_t lost_samples_ = 0;
  std::shared_ptr<Pending> pending_;  // Shared with callbacks that may outlive this.
};

}  // namespace fairlead::watch
