#include "daemon/sensors/life.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace fairlead::sensors {

namespace {
std::string cause(std::string_view what, std::string_view detail) {
  return detail.empty() ? std::string(what) : fmt::format("{}: {}", what, detail);
}
double seconds(int64_t us) { return static_cast<double>(us) / 1e6; }
}  // namespace

Orders Life::on(Event event, int64_t now_us, std::string_view detail) {
  if (event == Event::kStop) stop_wanted_ = true;
  switch (state_) {
    case State::kIdle:
      return event == Event::kStart && !stop_wanted_ ? enter_starting(now_us) : Orders{};
    case State::kStarting:
      return on_starting(event, now_us, detail);
    case State::kLive:
      return on_live(event, now_us, detail);
    case State::kStale:
      return on_stale(event, now_us, detail);
    case State::kStopping:
      return on_stopping(event, now_us);
    case State::kBackoff:
      return on_backoff(event, now_us);
  }
  return {};
}

Orders Life::enter_starting(int64_t now_us) {
  state_ = State::kStarting;
  due_us_ = now_us + limits_.start_within_us;
  ++starts_;
  return {.spawn = true};
}

Orders Life::enter_stopping(int64_t now_us, std::string gap) {
  state_ = State::kStopping;
  due_us_ = now_us + limits_.term_grace_us;
  return {.terminate = true, .gap = std::move(gap)};
}

Orders Life::enter_backoff(int64_t now_us, std::string gap) {
  if (stop_wanted_) {
    state_ = State::kIdle;
    return {.gap = "stopped with the daemon"};
  }
  state_ = State::kBackoff;
  backoff_us_ = backoff_us_ == 0 ? limits_.backoff_first_us
                                 : std::min(2 * backoff_us_, limits_.backoff_longest_us);
  due_us_ = now_us + backoff_us_;
  return {.gap = std::move(gap)};
}

Orders Life::on_starting(Event event, int64_t now_us, std::string_view detail) {
  switch (event) {
    case Event::kDescribed:
      state_ = State::kLive;
      due_us_ = now_us + limits_.stale_after_us;
      live_since_us_ = now_us;
      return {.tell_live = true};
    case Event::kSpawnFailed:
      return enter_backoff(now_us, cause("plugin cannot be started", detail));
    case Event::kExited:
      return enter_backoff(now_us, cause("plugin ended while starting", detail));
    case Event::kBreach:
      return enter_stopping(now_us, std::string(detail));
    case Event::kStop:
      return enter_stopping(now_us, {});
    case Event::kTick:
      if (now_us < due_us_) return {};
      return enter_stopping(now_us, fmt::format("plugin said nothing for {} s after its start",
                                                seconds(limits_.start_within_us)));
    default:
      return {};  // A broken stream: it may dial again until the deadline.
  }
}

Orders Life::on_live(Event event, int64_t now_us, std::string_view detail) {
  if (now_us - live_since_us_ >= limits_.healthy_after_us) backoff_us_ = 0;
  switch (event) {
    case Event::kBeat:
      due_us_ = now_us + limits_.stale_after_us;
      return {};
    case Event::kExited:
      return enter_backoff(now_us, cause("plugin ended", detail));
    case Event::kBreach:
      return enter_stopping(now_us, std::string(detail));
    case Event::kStop:
      return enter_stopping(now_us, {});
    case Event::kStreamBroken:
      state_ = State::kStale;
      due_us_ = now_us + limits_.kill_stale_us;
      return {.gap = "the plugin's stream broke"};
    case Event::kTick:
      if (now_us < due_us_) return {};
      state_ = State::kStale;
      due_us_ = now_us + limits_.kill_stale_us;
      return {.gap = fmt::format("no heartbeat from the plugin for {} s",
                                 seconds(limits_.stale_after_us))};
    default:
      return {};
  }
}

Orders Life::on_stale(Event event, int64_t now_us, std::string_view detail) {
  switch (event) {
    case Event::kBeat:
    case Event::kDescribed:
      state_ = State::kLive;
      due_us_ = now_us + limits_.stale_after_us;
      live_since_us_ = now_us;
      return {.tell_live = true};
    case Event::kExited:
      return enter_backoff(now_us, cause("plugin ended", detail));
    case Event::kBreach:
      return enter_stopping(now_us, std::string(detail));
    case Event::kStop:
      return enter_stopping(now_us, {});
    case Event::kTick:
      return now_us < due_us_ ? Orders{} : enter_stopping(now_us, {});
    default:
      return {};
  }
}

Orders Life::on_stopping(Event event, int64_t now_us) {
  if (event == Event::kExited) return enter_backoff(now_us, {});
  if (event == Event::kTick && now_us >= due_us_) {
    due_us_ = now_us + limits_.term_grace_us;
    return {.kill = true};
  }
  return {};
}

Orders Life::on_backoff(Event event, int64_t now_us) {
  if (event == Event::kStop) state_ = State::kIdle;
  if (event == Event::kTick && now_us >= due_us_) return enter_starting(now_us);
  return {};
}

std::string_view state_name(State state) {
  switch (state) {
    case State::kIdle:
      return "idle";
    case State::kStarting:
      return "starting";
    case State::kLive:
      return "live";
    case State::kStale:
      return "stale";
    case State::kStopping:
      return "stopping";
    case State::kBackoff:
      return "waiting to start again";
  }
  return "";
}

}  // namespace fairlead::sensors
