// The compliance summary of a span: how much of the work is on record, exposure, deviations with
// exact intervals and bounds, claims, equipment, actions, head. No composite score, nobody by name,
// and no figure of fewer than five people unless it is the owner's own copy.
//
// Threads: values and pure functions. Units: microseconds since 1970 UTC; kilometres.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "daemon/base/result.h"
#include "reports/job_record.h"
#include "reports/json.h"

namespace fairlead::reports {

/// A rule as a summary names it: one object for all the jobs it was held against.
struct RuleName {
  std::string procedure, rule, title, procedure_sha256;
  auto operator<=>(const RuleName&) const = default;
};
struct ByRuleName {
  bool operator()(const std::shared_ptr<const RuleName>& a,
                  const std::shared_ptr<const RuleName>& b) const {
    return *a < *b;
  }
};
using RuleNames = std::set<std::shared_ptr<const RuleName>, ByRuleName>;

struct SummaryFinding {
  std::shared_ptr<const RuleName> name;
  judge::Applies applies = judge::Applies::kUnknown;
  judge::Verdict verdict = judge::Verdict::kNone;
  judge::Reason reason = judge::Reason::kNone;
  judge::Basis basis = judge::Basis::kNone;
};
[[nodiscard]] SummaryFinding summary_finding(const judge::Finding& finding, RuleNames& names);

/// What one job gives to a summary.
struct SummaryJob {
  std::string job_id;
  int64_t opened_us = 0;
  bool closed = false;
  bool complete = false;  // Closed, no entry missing, every finding settled.
  std::vector<SummaryFinding> findings;
  uint32_t handlings = 0;    // Stretches on its own wheels.
  uint32_t connections = 0;  // Both clamps on at the car.
  uint32_t departures = 0;   // Truck moved off with the car aboard.
  uint32_t takings = 0;      // Takings of custody.
  uint32_t warnings = 0;
  uint32_t heeded = 0;              // Warnings whose rule did not deviate in the end.
  std::optional<double> loaded_km;  // Absent: not measured.
  double bay_days = 0;              // In the lot, until given or the job's last line.
  uint64_t entries = 0;             // Under its id, made by devices.
  std::vector<std::string> people;  // Cards of its operators: counted, never printed.
  std::vector<std::string> gear;    // Ids of straps, anchors, rigging used.
};

[[nodiscard]] SummaryJob summary_job(const JobRecord& record, RuleNames& names);

enum class ClaimState { kOpen, kPaid, kDeclined, kWithdrawn };
struct SummaryClaim {
  int64_t job_opened_us = 0;
  int64_t received_us = 0;
  ClaimState state = ClaimState::kOpen;
  std::string paid = {};                // "1250.00 EUR"; empty: nothing, or not stated.
  std::vector<std::string> kinds = {};  // Ids of the allegation table.
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
  /// The fleet's own past: jobs opened in [past_from_us, from_us), and claims against them.
  int64_t past_from_us = 0;
  std::vector<SummaryJob> past;
  std::vector<SummaryClaim> past_claims;
  v1::Register register_files;
  RecordFacts record;
  Standing standing;
  bool own_copy = false;  // For the owner's eyes: figures of fewer than five people are shown.
  bool preview = false;   // Not issued, not on record.
  std::vector<std::string> recipients;  // Printed; empty: not sent by the base.
};

/// One rule's counts over the span.
struct RuleCount {
  std::string rule, procedure, title;
  uint64_t met = 0, deviated = 0, unproven = 0, not_applicable = 0, doubtful = 0;
  uint64_t measured = 0;                  // Of those judged.
  std::map<judge::Reason, uint64_t> why;  // Reasons for unproven.
  std::set<std::string> people;           // Cards of operators of jobs where it applied.
  std::set<std::string> texts;            // SHA-256 of the procedures it stood in.
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
inline constexpr size_t kFewestPeople = 5;  // Fewer would be named by the figure.
[[nodiscard]] Rate rate_of(const RuleCount& count);

/// Errors: kBadInput when the span is empty.
[[nodiscard]] Result<Json> summary_json(const SummaryInput& input, const ReportOptions& options);
[[nodiscard]] Result<std::string> summary_html(const Json& json);
/// Tables with documented columns (docs/summary.md), each with its column names in the first line
/// but one: rules; claims by month of the job; this span against the one before.
[[nodiscard]] std::string summary_csv(const Json& json);
[[nodiscard]] std::string summary_claims_csv(const Json& json);
[[nodiscard]] std::string summary_change_csv(const Json& json);

}  // namespace fairlead::reports
