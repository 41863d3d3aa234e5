// Judges one job's observations under compiled procedures and register files. A pure function of
// its inputs: no clock, no files, no network; the same lines in any order give the same bytes.
//
// Threads: Rulebook is immutable after load and may be shared; each call works on its own memory.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/result.h"
#include "daemon/judge/finding.h"
#include "fairlead/v1/observation.pb.h"

namespace fairlead::judge {

/// Bytes of one procedure or register file and the name errors use for it.
struct SourceFile {
  std::string name;
  std::string bytes;
};

/// What stands in force for a job: compiled procedures and the register. Copies share one content.
class Rulebook {
 public:
  struct Content;
  /// Errors: kBadInput with all problems, one a line, each "file:line:column: what; what to do".
  [[nodiscard]] static Result<Rulebook> load(const std::vector<SourceFile>& procedures,
                                             const std::vector<SourceFile>& register_files);
  [[nodiscard]] const Content& content() const { return *content_; }

 private:
  std::shared_ptr<const Content> content_;
};

/// Ids of the procedures in force, in order.
[[nodiscard]] std::vector<std::string> procedure_ids(const Rulebook&);

struct Options {
  /// Judge as if this were now: nothing later is known. Absent: all lines are there is.
  std::optional<int64_t> now_us;
  /// Revision numbers continue from these (finding_key -> last finding), for live re-judging.
  std::map<std::string, Finding> previous;
  /// The job to judge; empty: the first one the lines open. Lines of a truck's other jobs may be
  /// among `lines`: they only tell which sequence numbers are not missing.
  std::string job;
  /// False: lines of the job are known to be on their way, so nothing is settled.
  bool complete = true;
};

/// Names a finding among those of a job: "procedure/rule".
[[nodiscard]] std::string finding_key(const Finding&);

/// One finding a rule, in the order of the procedures' rules (with RULE.count after its rule).
/// `lines` are all lines that belong to the job: its own and every sample and fix of its truck
/// while it is open. Lines already refused by the reader never get here.
[[nodiscard]] std::vector<Finding> judge_job(const Rulebook&,
                                             std::span<const v1::Observation> lines,
                                             const Options& = {});

/// A rule of a live job whose value has passed its `warn_at` share of the limit, or is deviated.
struct LiveWarning {
  std::string rule;
  std::string words;
  int64_t at_us = 0;
  bool deviated = false;
};
/// What a job says at one moment: its findings and the warnings they give (live_job.h).
struct Judgement {
  std::vector<Finding> findings;
  std::vector<LiveWarning> warnings;
};
[[nodiscard]] std::vector<LiveWarning> live_warnings(const Rulebook&,
                                                     std::span<const v1::Observation> lines,
                                                     int64_t now_us, const std::string& job = "");

}  // namespace fairlead::judge
