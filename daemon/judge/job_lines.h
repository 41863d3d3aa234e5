// A job's lines made ready to be judged: duplicates and undone lines out, clocks corrected, in the
// order (time, source, seq), with what is missing of every source. The result does not depend on
// the order the lines came in.
//
// Threads: built once, then read-only.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <vector>

#include "daemon/judge/timeline.h"
#include "fairlead/v1/observation.pb.h"

namespace fairlead::judge {

struct JobLine {
  const v1::Observation* observation = nullptr;
  Stamp stamp;
  bool good = true;     // quality is GOOD or not stated.
  std::string content;  // What it says, serialised, without when it came in.
};

/// A span in which lines of a source are known to be missing, or cannot be believed.
struct SourceGap {
  std::string source;
  std::string channel;       // Empty: everything the source says.
  int64_t from_us = 0;       // Time of its last line before.
  int64_t to_us = kForever;  // Time of its next line; kForever when none came.
  Reason reason = Reason::kNoData;
  std::optional<int64_t> lost;  // Lines missing, where the numbers tell.
  bool stated = false;          // Said by a `gap` line or a conflict, not only a missing number.
};

class JobLines {
 public:
  /// `job` empty: the lines hold one job only (the first opened).
  JobLines(std::span<const v1::Observation> lines, const std::string& job);

  [[nodiscard]] const std::vector<JobLine>& lines() const { return lines_; }
  [[nodiscard]] const JobLine& line(int index) const { return lines_[static_cast<size_t>(index)]; }
  [[nodiscard]] const std::vector<SourceGap>& gaps() const { return gaps_; }
  [[nodiscard]] const std::string& job() const { return job_; }
  /// Index of `opened`, kNoLine when the lines hold none.
  [[nodiscard]] int opened() const { return opened_; }
  /// The line that ended the job (closed or abandoned, not reopened since), or kNoLine.
  [[nodiscard]] int closed() const { return closed_; }
  [[nodiscard]] int64_t start_us() const;
  /// End of the job, or of what is known so far.
  [[nodiscard]] int64_t end_us() const { return end_us_; }
  /// A source with a line known to be missing is never complete past it.
  [[nodiscard]] bool missing_seq(const std::string& source) const {
    return missing_.contains(source);
  }
  /// Time of the source's last line of any kind; nullopt if it never spoke.
  [[nodiscard]] std::optional<int64_t> last_us(const std::string& source) const;
  /// How far, 95 % to one side, times of these sources may be off against `at`'s clock: 0 on one
  /// clock; nullopt when one of them cannot be compared.
  [[nodiscard]] std::optional<int64_t> clock_width_us(const std::set<std::string>& sources,
                                                      const Stamp& at) const;

 private:
  struct Raw;
  void read(std::span<const v1::Observation> lines, std::vector<Raw>& raw);
  void drop_undone(std::vector<Raw>& raw) const;
  void correct_clocks(std::vector<Raw>& raw) const;
  void widen_bursts(std::vector<Raw>& raw) const;
  void find_missing(const std::vector<Raw>& raw);
  void find_gap_lines();
  void end_gaps();
  void keep_job(std::vector<Raw>& raw);
  void find_ends();
  void note_clock(const std::string& source, const Stamp& stamp);

  std::string job_;
  std::vector<JobLine> lines_;
  std::vector<SourceGap> gaps_;
  std::set<std::string> missing_;
  std::map<std::string, int64_t> last_us_;
  std::map<std::string, std::vector<Stamp>> clocks_;  // One a clock, its widest uncertainty.
  int opened_ = kNoLine, closed_ = kNoLine;
  int64_t end_us_ = kBeginning;
};

}  // namespace fairlead::judge
