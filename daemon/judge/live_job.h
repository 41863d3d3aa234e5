// A job that is judged while it runs, line by line as they come. Lines in order cost what they add;
// a line that changes what stands before it (late, lost, undone, a gap, a clock's offset, an end)
// has the job judged anew from its record. What comes out is at every moment what judge_job() says
// of the same lines, byte for byte: that is the definition, this only the shorter way to it.
//
// Threads: one at a time.
#pragma once

#include <deque>
#include <memory>
#include <string>
#include <vector>

#include "daemon/judge/judge.h"
#include "daemon/judge/read_line.h"

namespace fairlead::judge {

struct JobState;

class LiveJob {
 public:
  /// `job` empty: the first one that the lines open.
  explicit LiveJob(Rulebook rulebook, std::string job = "");
  ~LiveJob();
  LiveJob(LiveJob&&) noexcept;
  LiveJob& operator=(LiveJob&&) noexcept;

  /// Lines that belong to the job, as for judge_job(). Judges nothing yet.
  void add(v1::Observation line);
  /// What judge_job() and live_warnings() say of all lines so far; `options.job` and
  /// `options.now_us` are not asked.
  [[nodiscard]] Judgement judge(const Options& options = {});

  [[nodiscard]] size_t lines() const;
  /// Latest time that a line shows; 0 without any.
  [[nodiscard]] int64_t newest_us() const { return newest_us_; }
  /// How often the job was read anew from its lines: 1 when all came in order.
  [[nodiscard]] size_t readings() const { return readings_; }

 private:
  // Behind a pointer, as the state points into them.
  struct Record {
    LineReader reader;
    std::deque<v1::Observation> said;
    std::deque<ReadLine> read;
    std::vector<const ReadLine*> lines;
  };
  Rulebook rulebook_;
  std::string job_;
  std::unique_ptr<Record> record_;
  std::unique_ptr<JobState> state_;
  size_t taken_ = 0;  // Lines that are in the state.
  size_t readings_ = 0;
  int64_t newest_us_ = 0;
};

}  // namespace fairlead::judge
