#include "daemon/watch/disk_room.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/statvfs.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>

#include "daemon/watch/stamp.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::watch {
namespace {

using ledger::Room;

constexpr int kRetrySeconds = 60;

constexpr uint64_t mib(int64_t count) { return static_cast<uint64_t>(count) << 20; }

uint64_t stop_below(const Space& space, int64_t percent, int64_t amount_mib) {
  return std::min(space.total / 100 * static_cast<uint64_t>(percent), mib(amount_mib));
}
// A tenth more than where it stopped, so that it does not go to and fro.
uint64_t resume_above(uint64_t stop) { return stop + stop / 10; }

std::string words_of(Room room, const Space& space) {
  return fmt::format(
      "disk: {} MiB of {} MiB are free: {} cannot be taken in; try again in {} s, or "
      "free some disk space",
      space.free >> 20, space.total >> 20, room == Room::kNothing ? "entries" : "photos and films",
      kRetrySeconds);
}

}  // namespace

SpaceProbe space_of(const std::filesystem::path& folder) {
  return [folder]() -> Result<Space> {
    struct statvfs info{};
    if (::statvfs(folder.c_str(), &info) != 0) {
      return fail(Code::kIo, fmt::format("{}: free space cannot be read ({})", folder.string(),
                                         std::strerror(errno)));
    }
    return Space{uint64_t{info.f_bavail} * info.f_frsize, uint64_t{info.f_blocks} * info.f_frsize};
  };
}

BaseDisk::BaseDisk(Office& office, const DiskConfig& config, SpaceProbe probe,
                   std::function<void(const std::string&)> log)
    : office_(office),
      config_(config),
      probe_(std::move(probe)),
      log_(std::move(log)),
      ballast_(office.data() / "ballast") {
  std::error_code error;
  has_ballast_ = std::filesystem::exists(ballast_, error);
}

// Free space as it would be with the ballast in its place.
Room BaseDisk::wanted(const Space& space, uint64_t free) const {
  const uint64_t entries = stop_below(space, config_.entries_percent, config_.entries_mib);
  const uint64_t attachments =
      stop_below(space, config_.attachments_percent, config_.attachments_mib);
  const auto below = [&](uint64_t stop, bool stopped) {
    return free < (stopped ? resume_above(stop) : stop);
  };
  if (below(entries, room_ == Room::kNothing)) return Room::kNothing;
  return below(attachments, room_ != Room::kAll) ? Room::kNoAttachments : Room::kAll;
}

void BaseDisk::look() {
  const auto space = probe_();
  const auto reusable = office_.ledger().reusable_bytes();
  if (!space || !reusable) {
    log_(space ? reusable.error().message : space.error().message);
    return;
  }
  uint64_t free = space->free + *reusable;
  if (!has_ballast_) free -= std::min(free, mib(config_.ballast_mib));
  const Room room = wanted(*space, free);
  if (room != room_) enter(room, *space);
  if (said_ != room_) say(*space);
  if (!has_ballast_ && room_ != Room::kNothing && space->free > mib(config_.ballast_mib))
    make_ballast();
  const std::scoped_lock lock(mutex_);
  state_ = {*space, *reusable, room_, false};
}

void BaseDisk::enter(Room room, const Space& space) {
  const std::string words =
      room == Room::kAll ? "disk: there is room again" : words_of(room, space);
  office_.ledger().set_room(room, words);
  room_ = room;
  log_(words);
  if (room != Room::kNothing || !has_ballast_) return;
  std::error_code error;
  std::filesystem::remove(ballast_, error);
  has_ballast_ = false;
}

// Until it is on record it is tried again at every look.
void BaseDisk::say(const Space& space) {
  v1::DiskFullBody body;
  body.set_free_bytes(space.free);
  body.set_total_bytes(space.total);
  body.set_refuses_attachments(room_ != Room::kAll);
  body.set_refuses_entries(room_ == Room::kNothing);
  const Room now = room_;
  if (const auto written = office_.write(record::Kind::kDiskFull, {}, body); !written) {
    log_("the full disk cannot be put on record yet: " + written.error().message);
    return;
  }
  said_ = now;
  (void)office_.ledger().sign_head();  // May not sign yet: then with the next head.
}

void BaseDisk::make_ballast() {
  const int fd = ::open(ballast_.c_str(), O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
  if (fd < 0) return;
  has_ballast_ = ::posix_fallocate(fd, 0, static_cast<off_t>(mib(config_.ballast_mib))) == 0;
  ::close(fd);
  if (has_ballast_) return;
  std::error_code error;
  std::filesystem::remove(ballast_, error);
}

DiskState BaseDisk::state() const {
  const std::scoped_lock lock(mutex_);
  return state_;
}

TruckDiskRoom::TruckDiskRoom(ledger::Ledger& ledger, Recorder& recorder, const record::Id16& device,
                             std::shared_ptr<const SecretKey> key, const DiskConfig& config,
                             SpaceProbe probe, std::function<void(const std::string&)> log)
    : ledger_(ledger),
      recorder_(recorder),
      device_(device),
      key_(std::move(key)),
      config_(config),
      probe_(std::move(probe)),
      log_(std::move(log)) {}

void TruckDiskRoom::look() {
  const auto space = probe_();
  const auto reusable = ledger_.reusable_bytes();
  if (!space || !reusable) {
    log_(space ? reusable.error().message : space.error().message);
    return;
  }
  const uint64_t reserve = mib(config_.truck_reserve_mib);
  const uint64_t free = space->free + *reusable;
  DiskState state = this->state();
  state.space = *space;
  state.reusable = *reusable;
  if (free < reserve) {
    const bool dropped = drop(resume_above(reserve) - free);
    if (!dropped && !state.refuses_samples) {
      log_("disk: what is free is kept for events; samples are not recorded");
      recorder_.pause_samples(true);
      state.refuses_samples = true;
    }
  } else if (free >= resume_above(reserve) && state.refuses_samples) {
    log_("disk: there is room again; samples are recorded");
    recorder_.pause_samples(false);
    state.refuses_samples = false;
  }
  const std::scoped_lock lock(mutex_);
  state_ = state;
}

bool TruckDiskRoom::drop(uint64_t bytes) {
  ledger::OwnEntry own;
  own.header.kind = record::Kind::kDrop;
  own.header.device_id = device_;
  stamp(own.header);
  own.key = key_;
  const auto dropped = ledger_.drop_oldest_strips(bytes, std::move(own));
  if (!dropped) {
    log_("samples cannot be given up: " + dropped.error().message);
    return false;
  }
  if (dropped->bodies == 0) return false;
  log_(fmt::format("disk full: {} samples' entries outside jobs given up, {} bytes",
                   dropped->bodies, dropped->bytes));
  return true;
}

DiskState TruckDiskRoom::state() const {
  const std::scoped_lock lock(mutex_);
  return state_;
}

}  // namespace fairlead::watch
