// Judges jobs while they happen, on a truck and at the base: lines in, findings and warnings out.
//
// A job is judged again when something of it has come: at once after an operator's line, else at
// most once a second, four times on a truck (less often when one judgement takes long). A truck is
// fed line by line before they are durable and gives live warnings; a base is told which leaves
// were committed, reads the job from its ledger, and writes FINDING entries when a job is closed
// and all its bodies are here, and again as a new revision when they change.
//
// Threads: any; judging runs on one thread inside. Subscribers are called from it.
#pragma once

#include <chrono>
#include <functional>
#include <future>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <set>
#include <string>
#include <tuple>
#include <vector>

#include "daemon/base/crypto.h"
#include "daemon/base/worker.h"
#include "daemon/judge/judge.h"
#include "daemon/judge/live_job.h"
#include "daemon/ledger/ledger.h"
#include "daemon/watch/finding_lines.h"
#include "daemon/watch/job_record.h"
#include "daemon/watch/office.h"
#include "daemon/watch/quarantine.h"
#include "daemon/watch/side_book.h"

namespace fairlead::watch {

/// A job as it stands.
struct JobView {
  record::Id16 job{};
  ledger::JobRow row;
  std::string name;
  v1::Observation opened;
  std::optional<v1::Observation> closed;
  /// As last judged in this run; 0 where a closed job was not judged again.
  size_t lines = 0;
  size_t bodies_missing = 0;
  /// Lines after the revocation of the truck's key: not judged.
  size_t quarantined = 0;
  /// Lines brought in again after the truck's disk was put back; strip bodies lost with it.
  size_t recovered = 0, bodies_lost = 0;
  /// JSON lines in the order of the rules.
  FindingLines findings;
  uint32_t met = 0, deviated = 0, unproven = 0;
  bool settled = false;
};

struct JobNews {
  JobView view;
  /// Findings that changed.
  std::vector<std::string> changed;
  /// Words of warnings just given.
  std::vector<std::string> warnings;
};

struct WatchOptions {
  /// Base: where findings are written. Truck: null.
  Office* office = nullptr;
  /// Truck: whose jobs.
  record::Id16 device_id{};
  /// Truck: files in force for a job that opens.
  std::function<std::vector<v1::Pin>(const v1::Opened&)> pins;
  /// Truck: a line to be recorded (a warning).
  std::function<void(v1::Observation)> say;
  std::function<void(const std::string&)> log;
  /// How often a job is judged for its readings' sake.
  std::chrono::milliseconds at_most_every{1'000};
};

class Watch {
 public:
  Watch(ledger::Ledger& ledger, WatchOptions options);
  /// Base: keeps what was sensed without a job.
  ~Watch();

  /// Takes up what the ledger knows: of a closed job with its findings on record only its opening
  /// and closing, so that a start costs little. Call once, before anything else.
  [[nodiscard]] Status load();

  /// Base: to be told that a strip's body has come after its header. What is committed it hears
  /// from the ledger by itself. Stays valid when the watch has ended.
  [[nodiscard]] std::function<void(const record::Id16& device, uint64_t seq)> body_hook();
  /// Truck.
  void line(const v1::Observation& line);

  [[nodiscard]] std::vector<JobView> jobs() const;
  [[nodiscard]] std::optional<JobView> job(const record::Id16& job) const;

  /// Base: work sensed while no job was open, that begins in [from_us, to_us).
  [[nodiscard]] Result<std::vector<UnjobbedWork>> unjobbed(int64_t from_us, int64_t to_us) const {
    return side_.works(from_us, to_us);
  }
  /// Base: other jobs of a car that this job identified by card.
  [[nodiscard]] std::vector<record::Id16> same_card(const record::Id16& job) const {
    return side_.same_card(job);
  }

  using Subscriber = std::function<void(const JobNews&)>;
  [[nodiscard]] uint64_t subscribe(Subscriber subscriber);
  void unsubscribe(uint64_t id);

 private:
  using Clock = std::chrono::steady_clock;
  // Who opened a job, the leaf that closed it (of an open one the highest number), the job.
  using Span = std::tuple<record::Id16, uint64_t, record::Id16>;
  // A FINDING entry: what it says, by digest; the line itself is among the view's.
  struct Written {
    uint32_t revision = 0;
    Hash line{};
  };
  struct Docket {
    JobView view;
    std::vector<v1::Pin> pins;
    std::optional<judge::Rulebook> rules;
    std::vector<v1::Observation> lines;  // Truck only: those not judged yet.
    std::optional<judge::LiveJob> live;  // Truck only, while the job is open.
    // Truck only: its lines up to its end stand in the ledger alone. Since when some wait beside
    // them.
    bool let_go = false;
    Clock::time_point taken_up{};
    std::map<std::string, Written> written;  // By judge::finding_key.
    uint64_t written_leaf = 0;               // Of the newest finding read at start.
    std::set<std::string> warned;
    bool urgent = false;
    std::optional<Span> span;  // As it stands in spans_.
    Clock::time_point last_run{};
    Clock::duration last_took{};
  };

  Status load_base();
  Status load_findings();
  static void take_written(Docket& docket, const std::vector<v1::FindingBody>& bodies);
  void see_leaves(uint64_t first, uint64_t last);
  void see_body(const record::Id16& device, uint64_t seq);
  void see_line(const v1::Observation& line);
  void take(Docket& docket, const v1::Observation& line);
  Docket* reopened(const v1::Observation& line);
  bool touch_jobs_of(const record::Id16& device, uint64_t leaf);
  Docket& docket(const record::Id16& job);
  void wake(Docket& docket, bool urgent);
  void place(Docket& docket);
  void run_due();
  void run(Docket& docket);
  judge::Judgement judge_live(Docket& docket, const judge::Options& options);
  bool take_up(Docket& docket);
  bool read_again(Docket& docket);
  bool read_ends(Docket& docket, const Quarantine& quarantine);
  void find_rules(Docket& docket);
  void publish(Docket& docket, const std::vector<judge::Finding>& findings,
               std::vector<std::string> warnings);
  void write_findings(Docket& docket, const std::vector<judge::Finding>& findings);
  std::vector<std::string> warn(Docket& docket, const std::vector<judge::LiveWarning>& warnings);
  [[nodiscard]] bool base() const { return options_.office != nullptr; }

  ledger::Ledger& ledger_;
  WatchOptions options_;
  mutable std::mutex mutex_;  // Guards views_ and subscribers_.
  std::map<record::Id16, JobView> views_;
  std::map<uint64_t, Subscriber> subscribers_;
  uint64_t next_subscriber_ = 1;
  // Worker only, after load(). A base holds tens of thousands of jobs: what comes must find those
  // it can belong to, and judging those it touched, without a walk through all.
  std::map<record::Id16, Docket> dockets_;
  std::set<Span> spans_;
  std::set<record::Id16> due_;  // Something of them has come since they were last judged.
  Clock::time_point looked_at_due_{};
  // By the files pinned: jobs of one day mostly pin the same, and compiling them costs more than
  // judging. Copies share one content.
  std::map<std::string, judge::Rulebook> rulebooks_;
  SideBook side_;  // Base only.
  Worker worker_;  // Last: it ends before what its tasks use.
};

/// Words that a finding line counts under.
[[nodiscard]] bool is_verdict(const std::string& finding_line, std::string_view verdict);

}  // namespace fairlead::watch
