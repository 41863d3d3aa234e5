// A base's own identity: its keys, its roster, its two chains. Everything the base writes into its
// ledger by itself goes through here, under the service key (FINDING, HEAD_COSIGNED, REFUSED) or
// the admin key (all else).
//
// Folder: keys/{root,log,admin,service}.key (0600), roster.note, head.note, ledger/. The root key
// only signs the roster; the owner should keep it off the machine.
// Threads: any, once open.
#pragma once

#include <google/protobuf/message_lite.h>

#include <filesystem>
#include <functional>
#include <memory>
#include <string>

#include "daemon/base/key_file.h"
#include "daemon/ledger/ledger.h"
#include "daemon/record/roster.h"

namespace fairlead::watch {

class Office {
 public:
  /// Makes keys, roster and leaf 0 on first start. Errors: of the key files, the roster, the
  /// ledger.
  [[nodiscard]] static Result<std::unique_ptr<Office>> open(const std::filesystem::path& data,
                                                            const std::string& base_name);

  [[nodiscard]] ledger::Ledger& ledger() { return *ledger_; }
  [[nodiscard]] const record::Roster& roster() const { return roster_; }
  [[nodiscard]] const std::string& roster_note() const { return roster_note_; }
  [[nodiscard]] const std::string& origin() const { return roster_.log.name; }
  [[nodiscard]] const record::Id16& ledger_id() const { return ledger_id_; }
  [[nodiscard]] const std::shared_ptr<const SecretKey>& log_key() const { return log_; }
  [[nodiscard]] const std::filesystem::path& data() const { return data_; }

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
  Office() = default;
  Status make_keys();
  Status make_roster(const std::string& base_name);
  Status open_ledger();
  ledger::OwnEntry own_entry(record::Kind kind, const record::Id16& job,
                             const google::protobuf::MessageLite& body) const;

  std::filesystem::path data_;
  std::shared_ptr<const SecretKey> root_, log_, admin_, service_;
  std::string roster_note_;
  record::Roster roster_;
  record::Id16 ledger_id_{};
  std::unique_ptr<ledger::Ledger> ledger_;
};

}  // namespace fairlead::watch
