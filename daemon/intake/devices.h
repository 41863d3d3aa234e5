// Which devices may record into this base: the ENROL entries of its ledger, kept in memory.
//
// Threads: any.
#pragma once

#include <map>
#include <mutex>
#include <optional>
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
  /// What the device is told at first contact.
  v1::Enrolment enrolment;
};

class Devices {
 public:
  explicit Devices(watch::Office& office) : office_(office) {}

  /// Reads ENROL and FORK entries of the ledger.
  [[nodiscard]] Status load();

  /// Appends the ENROL entry; the same id and key once more gives the device as it is. Errors:
  /// kConflict when the id, key or name belongs to another device. Blocks on the ledger.
  [[nodiscard]] Result<Device> enrol(const v1::EnrolBody& body);

  [[nodiscard]] std::optional<Device> find(const record::Id16& id) const;
  [[nodiscard]] std::optional<Device> find_name(const std::string& name) const;
  [[nodiscard]] std::vector<Device> all() const;
  void suspend(const record::Id16& id);

 private:
  Result<Device> remember(uint64_t leaf, int64_t recv_us, const record::EntryBytes& entry,
                          const v1::EnrolBody& body);

  watch::Office& office_;
  std::mutex enrolling_;  // Held while an ENROL entry is written: ids and names stay single.
  mutable std::mutex mutex_;
  std::map<record::Id16, Device> devices_;
};

/// "fairlead-device-v1 NAME DEVICE_ID KEY", the line of a truck's device.pub file.
[[nodiscard]] Result<v1::EnrolBody> enrolment_of_line(const std::string& line);

}  // namespace fairlead::intake
