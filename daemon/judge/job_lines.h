// A job's lines made ready to be judged: duplicates and undone lines out, clocks corrected, in the
// order (time, source, seq), with what is missing of every source, and lists of those that a rule
// asks for. The result does not depend on the order the lines came in.
//
// Threads: one at a time; between two calls of grow() read-only.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/judge/read_line.h"
#include "daemon/judge/timeline.h"
#include "daemon/record/merkle.h"
#include "fairlead/v1/observation.pb.h"

namespace fairlead::judge {

struct JobLine {
  const v1::Observation* observation = nullptr;  // Null: a sample, of which `read` says all.
  const ReadLine* read = nullptr;
  Stamp stamp;
  bool good = true;  // quality is GOOD or not stated.
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

/// A reading of one quantity, in SI.
struct Reading {
  int line = kNoLine;
  double value = 0;
};

class JobLines {
 public:
  /// `job` empty: the lines hold one job only (the first opened).
  JobLines(std::span<const v1::Observation> lines, const std::string& job);
  /// Of lines read before by `reader`, which both outlive this.
  JobLines(const LineReader& reader, std::span<const ReadLine* const> lines,
           const std::string& job);
  JobLines(const JobLines&) = delete;
  JobLines& operator=(const JobLines&) = delete;

  /// Takes up lines that have come since. Returns the index of the first line that is new or stands
  /// elsewhere now; nullopt when they change what stands before them (a late or lost line, a gap,
  /// an undo, a clock offset, a burst, an end ...): then this is to be built anew from all lines.
  [[nodiscard]] std::optional<int> grow(std::span<const ReadLine* const> fresh);

  [[nodiscard]] const std::vector<JobLine>& lines() const { return lines_; }
  [[nodiscard]] const JobLine& line(int index) const { return lines_[static_cast<size_t>(index)]; }
  /// Indices of lines that are neither sample nor fix nor alive: what somebody said or did.
  [[nodiscard]] const std::vector<int>& spoken() const { return spoken_; }
  /// Indices of all fixes.
  [[nodiscard]] const std::vector<int>& fixes() const { return fixes_; }
  /// What lines say of a quantity, in their order.
  [[nodiscard]] const std::vector<Reading>& readings(std::string_view quantity) const;
  /// Sources of these readings.
  [[nodiscard]] std::set<std::string> reading_sources(std::string_view quantity) const;
  [[nodiscard]] const std::string& source_of(const JobLine& line) const {
    return reader_->sources.name(line.read->source);
  }
  /// Merkle root over all lines in their order.
  [[nodiscard]] Hash root();

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
  struct Offset {
    int64_t at_us;
    const v1::ClockOffset* offset;
  };
  // What the next line of a source is held against.
  struct Source {
    bool heard = false;
    uint32_t last_seq = 0;
    int64_t latest_us = kBeginning;         // Of all its lines, corrected.
    std::optional<int64_t> last_us;         // Of those that count here.
    std::vector<Stamp> clocks;              // One a clock, its widest uncertainty.
    std::optional<int64_t> disbelieved_us;  // From when on.
  };
  using Lines = std::vector<const ReadLine*>;

  void build(Lines lines);
  void find_span(const Lines& lines);
  [[nodiscard]] bool foreign(const ReadLine& line) const;
  void sort_by_source(Lines& lines);
  std::vector<Raw> believed(Lines& lines);
  void correct_clocks(std::vector<Raw>& raw);
  void correct_clock(const ReadLine& line, Stamp& stamp);
  void find_missing(const std::vector<Raw>& raw);
  void drop_undone(std::vector<Raw>& raw);
  void widen_bursts(std::vector<Raw>& raw);
  void keep_job(const std::vector<Raw>& raw);
  void keep(size_t place, const ReadLine& line, Stamp stamp);
  [[nodiscard]] bool is_mark(const ReadLine& line) const;
  [[nodiscard]] std::string_view signal_of(const ReadLine& line) const;
  [[nodiscard]] bool counts(const ReadLine& line) const;
  [[nodiscard]] bool before(const ReadLine& a, int64_t a_us, const ReadLine& b, int64_t b_us) const;
  void find_ends();
  void find_gap_lines();
  void end_gaps();
  void list_lines(size_t from);
  [[nodiscard]] bool add(const ReadLine& line, size_t& first_changed);
  [[nodiscard]] bool speaks_of(int source, int quantity) const;
  [[nodiscard]] bool ends_gap(const ReadLine& line, int64_t time_us) const;
  [[nodiscard]] Source& source(const ReadLine& line) {
    return sources_[static_cast<size_t>(line.source)];
  }

  std::vector<ReadLine> own_lines_;  // Where nobody else keeps them.
  LineReader own_reader_;
  const LineReader* reader_;
  std::string job_;
  int job_number_ = kNoName;
  int64_t opened_us_ = kBeginning, closed_us_ = kForever;  // As shown; open ends where not known.
  std::vector<int> rank_;                                  // Of each source by its name.
  std::vector<Source> sources_;
  std::map<int, std::vector<Offset>> offsets_;  // By clock.
  std::map<int, int> frames_;                   // By clock.
  std::set<std::pair<std::string, uint32_t>> undone_;
  std::vector<int64_t> mark_us_;

  std::vector<JobLine> lines_;
  std::vector<int> spoken_, fixes_;
  std::vector<std::vector<Reading>> readings_;  // By the quantity's number.
  std::vector<std::vector<int>> speakers_;      // Their sources, likewise.
  std::vector<SourceGap> gaps_;
  std::set<std::string> missing_;
  int opened_ = kNoLine, closed_ = kNoLine;
  int64_t end_us_ = kBeginning;
  record::TreeEdge edge_;  // Over the first lines, which nothing late has moved so far.
};

}  // namespace fairlead::judge
