// What a summary of the invented year must find: each rule's verdicts, counted from the traces
// judged alone, before any ledger.
//
// Threads: one.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "clients/sim/year/plan.h"
#include "clients/sim/year/play.h"
#include "daemon/judge/judge.h"

namespace fairlead::sim {

class Truth {
 public:
  /// Judges the trace once under these rules and keeps what comes of it.
  void learn(size_t variant, int truck, const judge::Rulebook& rules, const Trace& trace,
             int64_t opened_us);
  void count(const PlannedJob& job);
  [[nodiscard]] std::string json(const YearPlan& plan, const std::vector<PlannedJob>& jobs,
                                 uint64_t claims, uint64_t sensed) const;

 private:
  struct Counts {
    uint64_t met = 0, deviated = 0, unproven = 0, not_applicable = 0, unknown = 0;
  };
  using Key = std::pair<std::string, std::string>;  // Procedure, rule.
  std::map<std::pair<size_t, int>, std::vector<std::pair<Key, judge::Finding>>> known_;
  std::map<Key, Counts> counts_;
};

}  // namespace fairlead::sim
