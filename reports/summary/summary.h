// The compliance summary of a span: how much of the work is on record, exposure, deviations with
// exact intervals and bounds, claims, equipment, actions, head. No composite score, nobody by name.
//
// Threads: values and pure functions. Units: microseconds since 1970 UTC; loaded_km kilometres.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "daemon/base/result.h"
#include "reports/job_record.h"
#include "reports/json.h"

namespace fairlead::reports {

/// What one job gives to a summary.
struct SummaryJob {
  std::string job_id;
  int64_t opened_us = 0;
  bool closed = false;
  bool complete = false;  // Closed, no entry missing, every finding settled.
  std::vector<judge::Finding> findings;
  uint32_t handlings = 0;    // Stretches on its own wheels.
  uint32_t connections = 0;  // Both clamps on at the car.
  uint32_t departures = 0;   // Truck moved off with the car aboard.
  uint32_t takings = 0;      // Takings of custody.
  uint32_t warnings = 0;
};

[[nodiscard]] SummaryJob summary_job(const JobRecord& record);

struct SummaryClaim {
  int64_t job_opened_us = 0;
  int64_t received_us = 0;
};

/// Where the record stands, so that leaving something out later shows.
struct Standing {
  struct Device {
    std::string name, device_id;
    uint32_t epoch = 0;
    uint64_t seq = 0;
    std::string chain;  // 64 hex characters.
  };
  struct Job {
    std::string job_id;
    uint64_t entries = 0;  // Under its id, made by devices.
  };
  std::vector<Device> devices;
  std::vector<Job> jobs;
  std::string request;   // Add-checkpoint body; empty: nobody countersigns.
  std::string cosigned;  // Newest countersigned checkpoint; empty: none yet.
  std::string alarm;     // Nobody answered for 72 h, in words; empty: all is well.
};

struct SummaryInput {
  int64_t from_us = 0, to_us = 0;
  std::optional<uint32_t> jobs_invoiced;  // The owner's count.
  std::optional<uint32_t>
      unrecorded_work;  // Work sensed while no job was open; absent: not counted.
  std::vector<SummaryJob> jobs;
  std::vector<SummaryClaim> claims;  // Against jobs of the span.
  v1::Register register_files;
  RecordFacts record;
  Standing standing;
};

/// One rule's counts over the span.
struct RuleCount {
  std::string rule, procedure, title;
  uint64_t met = 0, deviated = 0, unproven = 0, not_applicable = 0, doubtful = 0;
  std::map<std::string, uint64_t> why;  // Reasons for unproven.
  [[nodiscard]] uint64_t judged() const { return met + deviated; }
  [[nodiscard]] uint64_t all() const { return met + deviated + unproven; }
};

/// In order of procedure and rule.
[[nodiscard]] std::vector<RuleCount> count_rules(const std::vector<SummaryJob>& jobs);

/// A rate per hundred with its exact interval, and what it would be if every unproven one were good
/// or bad. `shown` is false below 20 judged, `bounded` below 20 judged and unproven: then only
/// counts are printed.
struct Rate {
  bool shown = false, bounded = false;
  double per_100 = 0, lo = 0, hi = 0;
  double all_good = 0, all_bad = 0;
};
inline constexpr uint64_t kFewestJudged = 20;
[[nodiscard]] Rate rate_of(const RuleCount& count);

/// Errors: kBadInput when the span is empty.
[[nodiscard]] Result<Json> summary_json(const SummaryInput& input, const ReportOptions& options);
[[nodiscard]] Result<std::string> summary_html(const Json& json);
/// One line a rule; the first two lines say what the columns are.
[[nodiscard]] std::string summary_csv(const Json& json);

}  // namespace fairlead::reports
