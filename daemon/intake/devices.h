// Which devices may record into this base, and under which key: the ENROL, ROTATE, REVOKE, FORK and
// RESTORE entries of its ledger, kept in memory, and who has called since the start.
//
// Threads: any.
#pragma once

#include <map>
#include <mutex>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "daemon/intake/codes.h"
#include "daemon/record/job_span.h"
#include "daemon/watch/office.h"
#include "fairlead/v1/intake_service.pb.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::intake {

struct Device {
  record::Id16 id{};
  PublicKey key;
  std::optional<PublicKey> key_before;  // Of the latest ROTATE.
  std::string name;
  v1::EnrolBody::Kind kind = v1::EnrolBody::UNSET;
  uint64_t enrol_leaf = 0;
  /// Two records of it exist; nothing more is taken from it until a person decides.
  bool suspended = false;
  /// Its key is revoked: entries after this place are taken and quarantined.
  std::optional<record::ChainPlace> last_trusted;
  uint64_t fork_leaf = 0;  // Of the newest FORK entry; 0 = none.
  /// Mark of the copy that a person chose to go on; no other is let in.
  std::optional<record::Id16> chosen;
  /// Newest RESTORE entry; 0 = none.
  uint64_t restore_leaf = 0;
  /// What the device is told at first contact.
  v1::Enrolment enrolment;
};

/// A copy of a truck that has called.
struct Copy {
  record::Id16 mark{};
  uint32_t epoch = 0;
  uint64_t last_seq = 0;
  int64_t called_us = 0;
};

/// How the run of a truck's program that calls relates to those that called before it.
enum class Session {
  kNewest,   // The same again, or one never seen: the truck was started anew.
  kEarlier,  // Another one has called since this one did: if it lives, there are two trucks.
};

class Devices {
 public:
  explicit Devices(watch::Office& office) : office_(office) {}

  /// Reads ENROL, ROTATE, REVOKE, FORK and RESTORE entries of the ledger.
  [[nodiscard]] Status load();

  /// Appends the ENROL entry; the same id and key once more gives the device as it is. Errors:
  /// kConflict when the id, key or name belongs to another device (a revoked one's name may be
  /// given again); kDenied when the roster names officers and none signed. Blocks on the ledger.
  [[nodiscard]] Result<Device> enrol(const v1::EnrolBody& body);
  /// What enrol would say, without writing.
  [[nodiscard]] Status check_enrol(const v1::EnrolBody& body) const;
  /// Appends the ROTATE entry; once more with the same keys gives the device as it is. Errors:
  /// kDenied when it is not signed by both keys or the old key is not the device's.
  [[nodiscard]] Result<Device> rotate(const record::Id16& id, const v1::KeyChange& change);
  /// Appends the REVOKE entry. Errors: kNotFound for a place that is not in the ledger.
  [[nodiscard]] Result<uint64_t> revoke(const v1::RevokeBody& body);
  [[nodiscard]] Codes& codes() { return codes_; }

  [[nodiscard]] std::optional<Device> find(const record::Id16& id) const;
  [[nodiscard]] std::optional<Device> find_name(const std::string& name) const;
  [[nodiscard]] std::vector<Device> all() const;
  [[nodiscard]] watch::Office& office() const { return office_; }

  /// Suspends the device, whatever becomes of the FORK entry it appends. Blocks on the ledger.
  [[nodiscard]] Status fork(const v1::ForkBody& body);
  /// Appends `fork` if there is one, then the RESTORE entry that opens the device's next epoch.
  /// Blocks on the ledger.
  [[nodiscard]] Result<Device> restore(const v1::RestoreBody& body,
                                       const std::optional<v1::ForkBody>& fork);
  /// A person's word which copy of a suspended truck goes on: a RESTORE entry that names it. `mark`
  /// may be its first hex characters. Errors: kNotFound, kConflict when nothing is to be decided.
  [[nodiscard]] Result<Device> decide(const std::string& name, const std::string& mark,
                                      const std::string& words);

  [[nodiscard]] Session note_session(const record::Id16& id, const std::string& session);
  void note_copy(const record::Id16& id, const Copy& copy);
  [[nodiscard]] std::vector<Copy> copies(const record::Id16& id) const;

 private:
  void learn(const ledger::StoredEntry& entry);
  Result<Device> written_change(const Result<ledger::AppendResult>& written,
                                const record::Id16& id);
  struct Callers {
    std::string newest;
    std::set<std::string> earlier;
    std::map<record::Id16, Copy> copies;
  };

  Status load_forks();
  void take_fork(uint64_t leaf, const v1::ForkBody& body);
  void take_restore(uint64_t leaf, const v1::RestoreBody& body);
  Result<Copy> find_copy(const Device& device, const std::string& mark) const;
  Result<Device> remember(uint64_t leaf, int64_t recv_us, const record::EntryBytes& entry,
                          const v1::EnrolBody& body);

  watch::Office& office_;
  Codes codes_;
  std::mutex enrolling_;  // Held while an ENROL entry is written: ids and names stay single.
  mutable std::mutex mutex_;
  std::map<record::Id16, Device> devices_;
  std::map<record::Id16, Callers> callers_;
};

/// The body an enrolment by a truck's device.pub line begins with.
[[nodiscard]] v1::EnrolBody enrolment_of(const record::DeviceLine& line);

}  // namespace fairlead::intake
