// A base's own identity: its keys, its roster, its two chains. Everything the base writes into its
// ledger by itself goes through here, under the service key (FINDING, HEAD_COSIGNED, REFUSED) or
// the admin key (all else).
//
// Folder: keys/{log,admin,service}.key (0600), roster.note, head.note, ledger/. The root key only
// signs rosters and belongs on another machine: where the owner has put a roster.note, none is made
// here; a first start without one makes keys/root.key and says once that it should be moved away.
// A new roster of the same root is taken while the base runs; keys/admin.key.next and
// keys/service.key.next, where it names them, follow the old ones.
// Threads: any, once open.
#pragma once

#include <google/protobuf/message_lite.h>

#include <atomic>
#include <deque>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "daemon/base/key_file.h"
#include "daemon/ledger/ledger.h"
#include "daemon/record/roster.h"
#include "daemon/watch/head_watch.h"

namespace fairlead::watch {

class Office {
 public:
  /// Makes keys, roster and leaf 0 on first start. Errors: of the key files, the roster, the
  /// ledger.
  [[nodiscard]] static Result<std::unique_ptr<Office>> open(const std::filesystem::path& data,
                                                            const std::string& base_name,
                                                            const HeadWatchOptions& options = {});

  [[nodiscard]] ledger::Ledger& ledger() { return *ledger_; }
  /// The roster in force, and its bytes. Stay valid when another comes.
  [[nodiscard]] const record::Roster& roster() const { return now().roster; }
  [[nodiscard]] const std::string& roster_note() const { return now().note; }
  /// Every roster of this ledger, oldest first.
  [[nodiscard]] std::vector<const record::Roster*> rosters() const;
  struct RosterNotes {
    std::string in_force;
    std::vector<std::string> older;  // Oldest first.
  };
  [[nodiscard]] RosterNotes roster_notes() const;
  /// The roster this generation of the ledger began with: what a policy pins first.
  [[nodiscard]] std::string first_roster_note() const;
  [[nodiscard]] const std::string& origin() const { return now().roster.log.name; }
  /// Whether this disk is the newest; what trucks and the countersigner have seen goes in here.
  [[nodiscard]] HeadWatch& heads() { return *heads_; }
  [[nodiscard]] const record::Id16& ledger_id() const { return ledger_id_; }
  [[nodiscard]] const std::shared_ptr<const SecretKey>& log_key() const { return log_; }
  [[nodiscard]] const std::filesystem::path& data() const { return data_; }

  /// Empty, or what the owner should be told once, after this start.
  [[nodiscard]] const std::string& notice() const { return notice_; }

  /// Checks a new roster against the one in force, and that this base holds the keys it names.
  /// Errors: kBadInput, kCorrupt, kConflict, kDenied in words.
  [[nodiscard]] Status check_roster(const std::string& note) const;
  /// The same, then a ROSTER entry; it is in force when this returns. Orders that still say what to
  /// do and were signed by a key it gives up are written again: no truck takes the old ones any
  /// more. Gives the roster's leaf.
  [[nodiscard]] Result<uint64_t> take_roster(const std::string& note);

  /// One entry of the base's own, durable when it returns. `job` zero = none. Not from a ledger
  /// callback or a reaction.
  [[nodiscard]] Result<ledger::AppendResult> write(record::Kind kind, const record::Id16& job,
                                                   const google::protobuf::MessageLite& body);
  /// The same without waiting.
  void write_later(record::Kind kind, const record::Id16& job,
                   const google::protobuf::MessageLite& body,
                   std::function<void(Result<ledger::AppendResult>)> done);
  /// Deletes bodies nobody holds and says so in an ERASE entry, in one transaction; more leaves
  /// than fit into one make several. Errors: of the ledger.
  [[nodiscard]] Result<std::vector<ledger::EraseResult>> erase(std::vector<uint64_t> leaves,
                                                               const std::string& policy,
                                                               const std::string& words,
                                                               bool dry_run);

 private:
  /// A roster with the bytes it came in and which of its keys this base writes with.
  struct Edition {
    std::string note;
    record::Roster roster;
    record::Id16 admin_id{}, service_id{};
    std::shared_ptr<const SecretKey> admin, service;
    bool failed = false;  // It never came on record.
  };

  Office() = default;
  Status make_keys();
  Status make_roster(const std::string& base_name);
  Status open_ledger(const HeadWatchOptions& heads);
  Status load_rosters();
  Status start_chains(const Edition& edition);
  Status renew_orders();
  [[nodiscard]] Result<Edition> edition_of(const std::string& note) const;
  [[nodiscard]] const Edition& now() const { return *now_.load(); }
  [[nodiscard]] ledger::OwnEntry own_entry(const Edition& edition, record::Kind kind,
                                           const record::Id16& job,
                                           const google::protobuf::MessageLite& body) const;
  void queue(ledger::OwnEntry own, std::function<void(Result<ledger::AppendResult>)> done);
  [[nodiscard]] Result<std::string> first_roster(const std::string& base_name) const;
  [[nodiscard]] Status promote(const Edition& edition) const;

  std::filesystem::path data_;
  std::shared_ptr<const SecretKey> root_, log_;
  std::string notice_;
  std::mutex taking_;  // One roster at a time.
  // Guards editions_, and that entries are queued under the roster in force at their place.
  mutable std::mutex mutex_;
  std::deque<Edition> editions_;
  std::atomic<const Edition*> now_ = nullptr;
  record::Id16 ledger_id_{};
  std::unique_ptr<ledger::Ledger> ledger_;
  std::unique_ptr<HeadWatch> heads_;
};

}  // namespace fairlead::watch
