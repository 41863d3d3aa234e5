// Free space, and what a base and a truck do as it runs out.
//
// A base refuses attachments first, then entries; before it stops it frees its ballast, writes
// DISK_FULL and signs a head; it takes in again by itself and says that too. A truck gives up
// samples outside jobs, the oldest first, and when none are left records no samples; events never
// stop. Space inside the ledger's own file counts as free.
//
// Threads: look() from one thread; state() from any. Bytes everywhere.
#pragma once

#include <filesystem>
#include <functional>
#include <mutex>
#include <string>

#include "daemon/base/config.h"
#include "daemon/watch/office.h"
#include "daemon/watch/recorder.h"

namespace fairlead::watch {

struct Space {
  uint64_t free = 0, total = 0;
};
using SpaceProbe = std::function<Result<Space>()>;
/// Of the disk that holds this folder, for a user without privileges.
[[nodiscard]] SpaceProbe space_of(const std::filesystem::path& folder);

struct DiskState {
  Space space;
  uint64_t reusable = 0;
  ledger::Room room = ledger::Room::kAll;
  bool refuses_samples = false;
};

class BaseDisk {
 public:
  BaseDisk(Office& office, const DiskConfig& config, SpaceProbe probe,
           std::function<void(const std::string&)> log);
  void look();
  [[nodiscard]] DiskState state() const;

 private:
  [[nodiscard]] ledger::Room wanted(const Space& space, uint64_t free) const;
  void enter(ledger::Room room, const Space& space);
  void say(const Space& space);
  void make_ballast();

  Office& office_;
  const DiskConfig config_;
  const SpaceProbe probe_;
  const std::function<void(const std::string&)> log_;
  const std::filesystem::path ballast_;
  bool has_ballast_ = false;
  ledger::Room room_ = ledger::Room::kAll, said_ = ledger::Room::kAll;  // Now, and on record.
  mutable std::mutex mutex_;                                            // Guards state_.
  DiskState state_;
};

class TruckDiskRoom {
 public:
  TruckDiskRoom(ledger::Ledger& ledger, Recorder& recorder, const record::Id16& device,
                std::shared_ptr<const SecretKey> key, const DiskConfig& config, SpaceProbe probe,
                std::function<void(const std::string&)> log);
  void look();
  [[nodiscard]] DiskState state() const;

 private:
  /// Gives up samples worth about so many bytes; false when there are none left.
  [[nodiscard]] bool drop(uint64_t bytes);

  ledger::Ledger& ledger_;
  Recorder& recorder_;
  const record::Id16 device_;
  const std::shared_ptr<const SecretKey> key_;
  const DiskConfig config_;
  const SpaceProbe probe_;
  const std::function<void(const std::string&)> log_;
  mutable std::mutex mutex_;  // Guards state_.
  DiskState state_;
};

}  // namespace fairlead::watch
