// What a base notes beside its jobs: work that was sensed while none was open, and which jobs were
// of one car (its plate card). Kept up to date as entries come, so that asking costs nothing. What
// was found is kept beside the ledger (put_value) and goes on from there at the next start; it can
// always be worked out anew.
//
// A strip is outside any job when its device had none open at that place of its chain. A job that
// is reopened takes in what lies between: the answer is worked out from the jobs as they are now.
// Threads: load, add_* and keep from one thread; the rest from any.
#pragma once

#include <map>
#include <mutex>
#include <set>
#include <vector>

#include "daemon/ledger/ledger.h"
#include "daemon/watch/sensed_work.h"

namespace fairlead::watch {

struct UnjobbedWork {
  record::Id16 device{};
  int64_t from_us = 0, to_us = 0;
  std::vector<SensedStretch> sensed;  // One a signal.
  uint64_t first_leaf = 0, last_leaf = 0;
};

/// Whether the device's entry at this leaf lies inside one of its jobs: bodies of strips that do
/// are kept like the job, the others for a shorter time.
[[nodiscard]] bool is_inside_a_job(const std::vector<ledger::JobRow>& jobs,
                                   const record::Id16& device, uint64_t leaf);

class SideBook {
 public:
  explicit SideBook(ledger::Ledger& ledger) : ledger_(ledger) {}

  /// Takes up what was kept and reads on from there. Errors: of the ledger.
  [[nodiscard]] Status load();
  /// Leaves up to `last` are committed.
  void add_leaves(uint64_t last);
  /// The body of a strip has come after its header.
  void add_body(const ledger::StoredEntry& entry);
  /// Keeps what was found. Errors: of the ledger.
  [[nodiscard]] Status keep();

  /// Oldest first, those that begin in [from_us, to_us).
  [[nodiscard]] Result<std::vector<UnjobbedWork>> works(int64_t from_us, int64_t to_us) const;
  /// Other jobs whose car was identified by a card that this job names too.
  [[nodiscard]] std::vector<record::Id16> same_card(const record::Id16& job) const;

 private:
  struct Found {
    uint64_t leaf = 0;
    SensedStretch stretch;
  };
  Status read_on(uint64_t last);
  void take(const ledger::StoredEntry& entry);
  void take_cards(const ledger::StoredEntry& entry);
  void take_strip(const record::Id16& device, uint64_t leaf, std::string_view body);

  ledger::Ledger& ledger_;
  uint64_t next_leaf_ = 0, kept_leaf_ = 0;
  std::map<record::Id16, std::set<record::Id16>> open_;  // Jobs open at next_leaf_, by device.
  std::map<record::Id16, WorkSensor> sensors_;
  mutable std::mutex mutex_;  // Guards found_ and cards_.
  std::map<record::Id16, std::vector<Found>> found_;
  std::map<std::string, std::set<record::Id16>> cards_;  // Jobs by card.
};

}  // namespace fairlead::watch
