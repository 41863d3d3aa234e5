// Summaries that go out by themselves: written once a period into the outbox folder, mailed where
// the owner has seen a preview and said yes.
//
// A period is written once, across restarts and power cuts: its files are made in
// outbox/NAME-FROM-TO.part, REPORT_ISSUED puts their hashes on record, the state file says so, the
// folder gets its name. What a cut leaves half done is gone on with: a .part folder whose hash is
// on record is taken as issued, any other made anew. A mail is handed to the server at least once;
// a cut between the server's answer and our note can make it twice, under the same Message-ID.
//
// Files: DATA/schedules/NAME (how far, what was approved), DATA/outbox/... with `delivery` beside
// the summary (the queue, for people to read). Failures to write or to send are ALARM entries.
// Threads: tick from one worker; the rest from any.
#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "daemon/base/config.h"
#include "daemon/desk/calendar.h"
#include "daemon/desk/desk.h"
#include "daemon/desk/smtp.h"
#include "fairlead/v1/summaries_service.pb.h"

namespace fairlead::desk {

struct DeliveryOptions {
  MailConfig mail;
  std::vector<ScheduleConfig> schedules;
  std::function<int64_t()> now_us;
  std::function<Status(const Mail&)> send;  // Empty: send_mail.
  std::function<void(const std::string&)> log = [](const std::string&) {};
};

class Deliveries {
 public:
  /// Takes up what the folders hold. Errors: kBadInput for a zone, kCorrupt naming the file.
  [[nodiscard]] static Result<std::unique_ptr<Deliveries>> open(Desk& desk,
                                                                DeliveryOptions options);

  /// Writes what is due and sends what waits. Never fails: what went wrong is in the queue, the log
  /// and the record.
  void tick();

  [[nodiscard]] v1::ListSchedulesResponse list() const;
  /// The owner's yes or no to just these settings. Errors: kNotFound.
  [[nodiscard]] Result<v1::Schedule> decide(const std::string& name, bool approve);
  /// What the preview of a schedule is asked with: its last whole period, paper, people it goes to.
  [[nodiscard]] Result<v1::WriteSummaryRequest> preview_of(const std::string& name) const;
  [[nodiscard]] Result<std::vector<std::string>> recipients_of(const std::string& name) const;

 private:
  struct Plan {
    ScheduleConfig config;
    Every every = Every::kMonth;
    int64_t done_us = 0;   // Everything before is written.
    std::string approved;  // Hash of the settings the owner said yes to.
    int64_t again_us = 0;  // After a failure to write.
    int64_t pause_us = 0;
  };
  struct Queued {
    std::string schedule, folder, state, words;
    std::vector<std::string> to;
    uint32_t tries = 0;
    int64_t made_us = 0, next_us = 0, sent_us = 0;
  };

  Deliveries(Desk& desk, DeliveryOptions options) : desk_(desk), options_(std::move(options)) {}
  Status load_plan(const ScheduleConfig& config);
  Status load_queue();
  Status save(const Plan& plan) const;
  Status save(const Queued& queued) const;
  void write_due(Plan& plan);
  Status write(Plan& plan, const Period& period);
  Status finish(Plan& plan, const Period& period, const std::filesystem::path& part);
  [[nodiscard]] Result<bool> is_issued(const std::filesystem::path& part) const;
  void send(Queued& queued);
  [[nodiscard]] Result<Mail> mail_of(const Queued& queued) const;
  void alarm(const std::string& words);
  [[nodiscard]] v1::Schedule schedule_of(const Plan& plan) const;
  [[nodiscard]] static std::string settings_hash(const ScheduleConfig& config);
  [[nodiscard]] std::filesystem::path outbox() const { return desk_.office.data() / "outbox"; }

  Desk& desk_;
  const DeliveryOptions options_;
  mutable std::mutex mutex_;  // Guards plans_ and queue_.
  std::map<std::string, Plan> plans_;
  std::map<std::string, Queued> queue_;  // By folder.
};

}  // namespace fairlead::desk
