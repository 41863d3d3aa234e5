// What a report is made from: one job's record, gathered by the desk (or by a test). Plain values;
// reports/ reads nothing else, neither database nor network.
//
// Threads: values only. Units: times are microseconds since 1970 UTC.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "daemon/judge/finding.h"
#include "fairlead/v1/claims_service.pb.h"
#include "fairlead/v1/observation.pb.h"
#include "fairlead/v1/register.pb.h"
#include "reports/text.h"

namespace fairlead::reports {

/// A file that was in force for the job: its raw bytes are in the bundle under this hash.
struct FileInForce {
  std::string kind;  // procedure, vehicle, gear, truck, sensor, register
  std::string id;
  std::string version;
  std::string sha256;
  /// Put on record by the base.
  std::optional<int64_t> since_us = {};
  std::optional<uint64_t> leaf = {};
  std::string by = {};
  /// Taken in force by the truck.
  std::optional<int64_t> truck_since_us = {};
  std::optional<uint64_t> truck_leaf = {};
};

/// The device's wall clock moved against its monotonic one.
struct ClockStepFact {
  int64_t expected_us = 0, shown_us = 0;
  uint64_t leaf = 0;
};

/// When an entry was made by the word of countersigners alone.
struct TimeBracket {
  std::optional<int64_t> not_before_us, not_after_us;
  bool operator==(const TimeBracket&) const = default;
};

/// The job judged under files that it does not pin, where that was asked for.
struct OtherRules {
  struct Difference {
    std::string rule, pinned, other;
  };
  std::string heading;
  std::vector<std::string> files;  // "load.textproto 9f2c41aa".
  std::vector<Difference> differences;
};

struct Attachment {
  std::string media_type;
  std::string bytes;  // Empty: promised but not here yet.
};

struct Countersignature {
  std::string by;
  int64_t at_us = 0;
  uint64_t head_size = 0;
};

/// Facts about the record itself, as the ledger states them.
struct RecordFacts {
  std::string ledger;  // Origin of the log.
  uint64_t entries = 0;
  uint64_t entries_missing = 0;
  uint64_t entries_foreign = 0;
  uint64_t entries_recovered = 0;
  uint64_t attachments_missing = 0;
  uint64_t first_leaf = 0;
  uint64_t last_leaf = 0;
  uint64_t head_size = 0;
  std::string head_root;  // 64 hex characters.
  std::optional<int64_t> head_at_us;
  /// First countersigned head that covers the last entry of the job.
  std::optional<Countersignature> countersigned;
  std::optional<int64_t> not_before_us;
  std::optional<int64_t> not_after_us;
  /// When what the report rests on was last read again from the disk, and what came of it.
  std::optional<int64_t> checked_at_us;
  std::string check_result;
  bool imported = false;  // Lines were fed into the base, not recorded on a truck.
  /// The truck's entries from 2 h before to 2 h after, in a sentence.
  std::string around;
  /// Its other jobs in that time; jobs of the same plate card; work it sensed without a job.
  std::vector<std::string> neighbours, same_card, sensed;
};

struct JobRecord {
  std::string job_id;
  std::string number;  // The owner's own; may be empty.
  std::vector<v1::Observation> lines;
  std::vector<TimeBracket> brackets;  // One a line, or empty.
  std::vector<ClockStepFact> clock_steps;
  std::vector<judge::Finding> findings;
  v1::Register register_files;
  std::vector<FileInForce> files;
  std::map<std::string, std::string> cards;       // Card id to name; an erased card is absent.
  std::map<std::string, Attachment> attachments;  // By SHA-256, 64 hex characters.
  RecordFacts record;
  std::optional<OtherRules> other_rules;
};

enum class Paper { kA4, kLetter };

struct ReportOptions {
  std::string issuer;
  int64_t issued_at_us = 0;
  /// Of the pages' times; empty: UTC.
  std::vector<OffsetSince> offsets;
  std::string zone_name;  // Printed beside local times; empty: by the offset, "UTC+01:00".
  Paper paper = Paper::kA4;
  bool draft = false;
  bool draft_recorded = false;  // Whether the owner chose that drafts leave an entry.
  std::string program_version;
};

[[nodiscard]] inline LocalTime local_time(const ReportOptions& options) {
  return {options.offsets, shortened(shown(options.zone_name), 40)};
}

}  // namespace fairlead::reports
