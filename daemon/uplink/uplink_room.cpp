#include "daemon/uplink/uplink_room.h"

#include <fmt/format.h>

#include <algorithm>

namespace fairlead::uplink {
namespace {

using std::chrono::milliseconds;
constexpr milliseconds kFirstPause{50};
// While nothing comes from the base: how soon new entries are noticed.
constexpr milliseconds kLook{20};
constexpr milliseconds kResumeWait{10'000};
// Two records that differ need a person; look again now and then whether one has acted.
constexpr milliseconds kConflictPause{30'000};

}  // namespace

UplinkRoom::UplinkRoom(UplinkStore& store, UplinkOptions options)
    : store_(store), options_(std::move(options)), thread_([this] { run(); }) {}

UplinkRoom::~UplinkRoom() {
  stop_ = true;
  thread_.join();
}

void UplinkRoom::run() {
  milliseconds wait = kFirstPause;
  while (!stop_) {
    asked_pause_ms_ = 0;
    const bool reached_before = acked_ > 0;
    const Error end = session();
    const bool was_connected = connected_.exchange(false);
    if (stop_) return;
    if (was_connected) wait = kFirstPause;
    if (options_.log && (end.message != said_ || was_connected)) {
      options_.log(fmt::format("link {}: {}", reached_before || was_connected ? "lost" : "not up",
                               end.message));
      said_ = end.message;
    }
    if (end.code == Code::kConflict) {
      pause(std::min(kConflictPause, std::max(options_.longest_pause, kFirstPause)));
      continue;
    }
    pause(std::max(wait, milliseconds(asked_pause_ms_)));
    wait = std::min(wait * 2, options_.longest_pause);
  }
}

void UplinkRoom::pause(milliseconds wait) {
  const auto until = std::chrono::steady_clock::now() + wait;
  while (!stop_ && std::chrono::steady_clock::now() < until)
    std::this_thread::sleep_for(milliseconds(10));
}

Error UplinkRoom::session() {
  const auto pipe = options_.dial();
  UplinkState state(store_);
  auto hello = state.greet();
  if (!hello) return hello.error();
  if (auto ok = pipe->send(std::move(*hello)); !ok) return ok.error();
  auto give_up = std::chrono::steady_clock::now() + kResumeWait;
  while (!stop_) {
    const uint64_t before = replies_;
    if (auto ok = turn(state, *pipe); !ok) {
      asked_pause_ms_ = state.retry_after_ms();
      return ok.error();
    }
    // Giving back what a disk has lost may take many replies.
    if (replies_ > before) give_up = std::chrono::steady_clock::now() + kResumeWait;
    if (!state.streaming() && std::chrono::steady_clock::now() > give_up) {
      return {Code::kUnavailable, "the base does not answer"};
    }
    if (state.streaming() && !connected_.exchange(true)) {
      said_.clear();
      if (options_.log)
        options_.log(fmt::format("link up, base holds entries up to {}", state.acked_seq()));
    }
    acked_ = state.acked_seq();
  }
  return {Code::kUnavailable, "stopping"};
}

// Everything that may go out goes out; then one reply, or a short look whether there is more.
Status UplinkRoom::turn(UplinkState& state, Pipe& pipe) {
  for (;;) {
    auto shipment = state.next();
    if (!shipment) return std::unexpected(shipment.error());
    if (!*shipment) break;
    if (auto ok = pipe.send(std::move(**shipment)); !ok) break;
  }
  auto reply = pipe.receive(kLook);
  while (reply && *reply) {
    ++replies_;
    if (auto ok = state.take(**reply); !ok) return ok;
    reply = pipe.receive(milliseconds(0));
  }
  return reply ? Status{} : std::unexpected(reply.error());
}

}  // namespace fairlead::uplink
