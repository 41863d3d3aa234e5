// Numbers of a device's lines: which number each source had last, and which lines of a job are on
// record already. Nothing of old jobs is read at start: a job's lines are read again when one of it
// comes, and the sources that belong to no job are kept beside the ledger (put_value).
//
// Threads: one at a time. Errors: of the ledger.
#pragma once

#include <map>
#include <set>
#include <string>
#include <unordered_map>
#include <utility>
#include <vector>

#include "daemon/ledger/ledger.h"
#include "fairlead/v1/observation.pb.h"
#include "fairlead/v1/watch_state.pb.h"

namespace fairlead::watch {

class Numbering {
 public:
  Numbering(ledger::Ledger& ledger, const record::Id16& device)
      : ledger_(ledger), device_(device) {}

  /// What was kept, and what the chain holds beyond it.
  [[nodiscard]] Status load();
  /// To be called before notice() and number() of lines of that job ("" = no job, which reads the
  /// whole chain: only fed lines without a job need it).
  [[nodiscard]] Status know(const std::string& job);

  /// Notes a fed line; false for an exact repeat. The same number with other content is news.
  bool notice(const v1::Observation& line);
  /// Undoes notice() of a line that was refused after it.
  void forget(const v1::Observation& line);
  /// Gives the line the next number of its source.
  void number(v1::Observation& line);

  /// The line lies outside its job's span as far as the device knows: the entry that will hold it
  /// has to be found again.
  [[nodiscard]] bool is_stray(const v1::Observation& line) const;
  void add_stray(uint64_t seq) { stray_.insert(seq); }
  /// Follows openings and closings.
  void follow(const v1::Observation& line);

  /// Sources whose lines belong to no job.
  [[nodiscard]] std::vector<std::string> sources_without_job() const;
  /// The numbers as they stand.
  [[nodiscard]] v1::NumberingState numbers() const;
  /// Keeps them: every line they count in must be in an entry up to `through_seq`, and that
  /// durable.
  [[nodiscard]] Status keep(v1::NumberingState numbers, uint64_t through_seq);

 private:
  struct Source {
    std::unordered_map<uint32_t, uint64_t> seen;  // Number -> digest of the content.
    uint32_t last = 0;
  };
  Source& source_of(const v1::Observation& line) { return sources_[{line.job(), line.source()}]; }
  bool is_inside(const std::string& job, uint64_t leaf) const;
  Status read_on(uint32_t epoch, uint64_t from_seq);
  void count_in(const ledger::StoredEntry& entry);
  Status read_lines(const ledger::StoredEntry& entry, const std::string& job);
  Status read_chain(const std::string& job);

  ledger::Ledger& ledger_;
  record::Id16 device_{};
  uint32_t epoch_ = 1;
  std::map<std::pair<std::string, std::string>, Source> sources_;  // By job and source.
  std::set<std::string> known_;                                    // Jobs whose lines were read.
  std::set<record::Id16> open_, opened_;                           // Open now; opened in this run.
  std::set<uint64_t> stray_;                                       // By seq, of this epoch.
};

}  // namespace fairlead::watch
