// Which devices may record into this base, and under which key: the ENROL, ROTATE and REVOKE
// entries of its ledger, kept in memory.
//
// Threads: any.
#pragma once

#include <map>
#include <mutex>
#include <optional>
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
  /// What the device is told at first contact.
  v1::Enrolment enrolment;
};

class Devices {
 public:
  explicit Devices(watch::Office& office) : office_(office) {}

  /// Reads ENROL, ROTATE, REVOKE and FORK entries of the ledger.
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
  void suspend(const record::Id16& id);

 private:
  void learn(const ledger::StoredEntry& entry);
  Result<Device> written_change(const Result<ledger::AppendResult>& written,
                                const record::Id16& id);
  Result<Device> remember(uint64_t leaf, int64_t recv_us, const record::EntryBytes& entry,
                          const v1::EnrolBody& body);

  watch::Office& office_;
  Codes codes_;
  std::mutex enrolling_;  // Held while an ENROL entry is written: ids and names stay single.
  mutable std::mutex mutex_;
  std::map<record::Id16, Device> devices_;
};

/// The body an enrolment by a truck's device.pub line begins with.
[[nodiscard]] v1::EnrolBody enrolment_of(const record::DeviceLine& line);

}  // namespace fairlead::intake
