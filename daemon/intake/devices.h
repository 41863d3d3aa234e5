// Which devices may record into this base: the ENROL, FORK and RESTORE entries of its ledger, kept
// in memory, and who has called since the start.
//
// Threads: any.
#pragma once

#include <map>
#include <mutex>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "daemon/watch/office.h"
#include "fairlead/v1/intake_service.pb.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::intake {

struct Device {
  record::Id16 id{};
  PublicKey key;
  std::string name;
  v1::EnrolBody::Kind kind = v1::EnrolBody::UNSET;
  uint64_t enrol_leaf = 0;
  /// Two records of it exist; nothing more is taken from it until a person decides.
  bool suspended = false;
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

  /// Reads ENROL, FORK and RESTORE entries of the ledger.
  [[nodiscard]] Status load();

  /// Appends the ENROL entry; the same id and key once more gives the device as it is. Errors:
  /// kConflict when the id, key or name belongs to another device. Blocks on the ledger.
  [[nodiscard]] Result<Device> enrol(const v1::EnrolBody& body);

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
  std::mutex enrolling_;  // Held while an ENROL entry is written: ids and names stay single.
  mutable std::mutex mutex_;
  std::map<record::Id16, Device> devices_;
  std::map<record::Id16, Callers> callers_;
};

/// "fairlead-device-v1 NAME DEVICE_ID KEY", the line of a truck's device.pub file.
[[nodiscard]] Result<v1::EnrolBody> enrolment_of_line(const std::string& line);

}  // namespace fairlead::intake
