#include "daemon/uplink/key_change.h"

namespace fairlead::uplink {
namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;
constexpr milliseconds kLook{20};

// Sends what waits, as at any other time, until the base has all of it.
Status drain(TruckDisk& disk, const UplinkOptions& options, Clock::time_point until) {
  UplinkRoom room(disk, options);
  while (Clock::now() < until) {
    const auto mark = disk.ledger()->watermark(disk.device_id());
    if (!mark) return std::unexpected(mark.error());
    if (room.connected() && room.acked_seq() == mark->seq) return {};
    std::this_thread::sleep_for(kLook);
  }
  return fail(Code::kUnavailable,
              "the base did not take everything the old key had signed in time");
}

}  // namespace

Status change_key(TruckDisk& disk, const UplinkOptions& options, milliseconds time) {
  const auto until = Clock::now() + time;
  if (auto ok = drain(disk, options, until); !ok) return ok;
  auto hello = UplinkState(disk).greet();
  if (!hello) return std::unexpected(hello.error());
  *hello->mutable_hello()->mutable_key_change() = disk.key_change();
  const auto pipe = options.dial();
  if (auto ok = pipe->send(std::move(*hello)); !ok) return ok;
  while (Clock::now() < until) {
    const auto reply = pipe->receive(kLook);
    if (!reply) return std::unexpected(reply.error());
    if (!*reply) continue;
    if ((*reply)->has_refusal()) return fail(Code::kDenied, (*reply)->refusal().words());
    if (!(*reply)->has_resume()) continue;
    if ((*reply)->resume().public_key() != disk.key_change().new_public_key()) {
      return fail(Code::kDenied, "the base goes on with the old key; update it");
    }
    return disk.adopt_next_key();
  }
  return fail(Code::kUnavailable, "the base did not answer in time");
}

}  // namespace fairlead::uplink
