// Countersigning at the base: who was named, what they are asked, what they answer, the head that
// goes out every day and the alarm when nobody answers for 72 h.
//
// Folder DATA/countersign: SIZE.note, heads that somebody was asked to sign (an answer does not
// name its head); mail, what went out last and since when an answer is due. Folder DATA/outbox:
// head-YYYY-MM-DD.txt, ready to be mailed.
// Threads: any but ledger callbacks and reactions: blocks on the disk.
#pragma once

#include <filesystem>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "daemon/base/config.h"
#include "daemon/record/checkpoint.h"
#include "daemon/watch/cosigned_heads.h"
#include "daemon/watch/office.h"
#include "fairlead/v1/ledger_service.pb.h"

namespace fairlead::desk {

inline constexpr int64_t kAnswerDue_us = 72 * int64_t{3'600'000'000};

struct NamedCountersigner {
  record::VerifierKey key;
  std::string url;
  std::string ca;  // PEM; empty = the system's authorities.
};

/// What went out: kept on disk so that a restart neither mails twice nor forgets to wait.
struct HeadMailState {
  int64_t sent_us = 0;     // The newest head mail; 0 = none yet.
  int64_t waiting_us = 0;  // First one without an answer; 0 = none waits.
  bool alarmed = false;    // NO_COSIGNATURE was written for this wait.
  std::string note;        // Checkpoint of the newest mail.
};

class Countersigning {
 public:
  using Clock = std::function<int64_t()>;

  /// Errors: kBadInput for a key line that is none or is named twice; of the ledger and the folder.
  [[nodiscard]] static Result<std::unique_ptr<Countersigning>> open(
      watch::Office& office, const std::vector<CountersignerConfig>& named, size_t threshold,
      Clock now_us);

  [[nodiscard]] bool any() const { return !named_.empty(); }
  [[nodiscard]] size_t threshold() const { return threshold_; }
  [[nodiscard]] const watch::CosignedHeads& heads() const { return heads_; }
  /// C2SP tlog-policy text: the log, the countersigners, the quorum. It stands in the record as
  /// POLICY file kPolicyName.
  [[nodiscard]] std::string policy_text() const;
  static constexpr const char* kPolicyName = "countersigners.policy";

  /// The add-checkpoint body for the newest head. Errors: kNotFound when nobody of that name is
  /// named; kConflict when the countersigner stands above this ledger: the base was restored.
  [[nodiscard]] Result<v1::GetCountersignResponse> ask(const v1::GetCountersignRequest& request);
  /// Takes cosignature lines or a refusal. Good lines go on record as one HEAD_COSIGNED entry and a
  /// new head over it is signed. An answer that shows the countersigner at or below this ledger
  /// lets a base that has just started sign again. Errors: kBadInput for what fits no head asked
  /// about or is by nobody named; kConflict as above.
  [[nodiscard]] Result<v1::TakeCountersignResponse> take(const v1::TakeCountersignRequest& request);

  /// Sends the day's head, raises the alarm. Call it every few seconds.
  [[nodiscard]] Status tick();
  /// The head a report names, which must be one that was mailed: the newest mailed one if it has at
  /// least `size` leaves, else a new one goes out now. nullopt: nobody is named, nothing is mailed.
  struct MailedHead {
    ledger::SignedHead head;
    int64_t sent_us = 0;
  };
  [[nodiscard]] Result<std::optional<MailedHead>> mailed_head(uint64_t size);
  void add_status(v1::GetStatusResponse& status) const;
  /// Nobody has answered for 72 h, in words; empty while all is well.
  [[nodiscard]] std::string alarm() const;

 private:
  Countersigning(watch::Office& office, size_t threshold, Clock now_us);
  Status load_mail();
  Status save_mail(const HeadMailState& mail);
  Result<const NamedCountersigner*> find(const std::string& name) const;
  Result<v1::GetCountersignResponse> ask_about(const NamedCountersigner& whom,
                                               const ledger::SignedHead& head, uint64_t old_size);
  Result<ledger::SignedHead> newest_head();
  Result<ledger::SignedHead> send_head();
  Status raise_alarm();
  /// The countersigner stands at this head: what a base that has just started waits to hear.
  Status hear_of(const record::Checkpoint& head, const std::string& note, const std::string& who);
  Result<v1::TakeCountersignResponse> take_refusal(const std::string& answer, uint32_t status);
  Result<v1::TakeCountersignResponse> take_lines(const std::string& answer);
  struct Found {
    record::Note note;  // The log's line and every good cosignature.
    record::Checkpoint checkpoint;
    std::vector<v1::Countersigner> accepted;
    bool fresh = false;  // Not all of them were on record.
    uint64_t newest_s = 0;
  };
  Result<Found> match(const std::vector<record::NoteSignature>& lines);
  Result<bool> accept(const std::vector<record::NoteSignature>& lines, Found& found);
  Result<v1::TakeCountersignResponse> put_on_record(const Found& found);
  void answered();
  Status keep_asked(const ledger::SignedHead& head);
  std::vector<uint64_t> asked_sizes() const;

  watch::Office& office_;
  size_t threshold_;
  Clock now_us_;
  int64_t started_us_;
  std::vector<NamedCountersigner> named_;
  watch::CosignedHeads heads_;
  std::filesystem::path folder_, outbox_;
  mutable std::mutex mutex_;  // Guards mail_.
  HeadMailState mail_;
  std::mutex taking_, sending_;  // One answer, one mail at a time.
};

}  // namespace fairlead::desk
