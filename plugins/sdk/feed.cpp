#include "plugins/sdk/feed.h"

#include <time.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace fairlead::sdk {

namespace {
int64_t clock_us(clockid_t id) {
  timespec t{};
  clock_gettime(id, &t);
  return int64_t{t.tv_sec} * 1'000'000 + t.tv_nsec / 1000;
}
}  // namespace

Stamp now() { return {clock_us(CLOCK_REALTIME), clock_us(CLOCK_MONOTONIC)}; }

void Feed::put(v1::PluginReading reading, Stamp at) {
  std::lock_guard lock(mutex_);
  if (reading.has_value() || reading.has_fix()) gaps_.erase(reading.channel());
  put_locked(std::move(reading), at);
}

void Feed::put_locked(v1::PluginReading reading, Stamp at) {
  reading.set_wall_us(at.wall_us);
  reading.set_mono_us(at.mono_us);
  outbox_.add(std::move(reading));
  changed_.notify_all();
}

void Feed::sample(uint32_t channel, double value, Stamp at, v1::Quality::Word quality) {
  if (!std::isfinite(value)) {
    gap(channel, "the instrument gave no number", 1, at);
    return;
  }
  v1::PluginReading reading;
  reading.set_channel(channel);
  reading.set_quality(quality);
  reading.set_value(value);
  put(std::move(reading), at);
}

void Feed::fix(uint32_t channel, const v1::Fix& fix, Stamp at, std::optional<int64_t> device_us,
               v1::Quality::Word quality) {
  v1::PluginReading reading;
  reading.set_channel(channel);
  reading.set_quality(quality);
  if (device_us) reading.set_device_us(*device_us);
  *reading.mutable_fix() = fix;
  put(std::move(reading), at);
}

bool Feed::gap(uint32_t channel, std::string_view cause, std::optional<uint64_t> lost, Stamp at) {
  v1::PluginReading reading;
  reading.set_channel(channel);
  reading.mutable_gap()->set_cause(std::string(cause));
  if (lost) reading.mutable_gap()->set_lost(*lost);
  std::lock_guard lock(mutex_);
  std::string& said = gaps_[channel];
  if (!lost && said == cause) return false;
  said = cause;
  put_locked(std::move(reading), at);
  return true;
}

void Feed::state(uint32_t channel, std::string_view words, Stamp at) {
  v1::PluginReading reading;
  reading.set_channel(channel);
  reading.set_state(std::string(words));
  put(std::move(reading), at);
}

void Feed::beat() {
  Stamp at = now();
  std::lock_guard lock(mutex_);
  beat_.set_turns(beat_.turns() + 1);
  beat_.set_wall_us(at.wall_us);
  beat_.set_mono_us(at.mono_us);
}

std::optional<v1::PluginCommand> Feed::take_command() {
  std::lock_guard lock(mutex_);
  return switches_.take(clock_us(CLOCK_MONOTONIC));
}

void Feed::done(const v1::PluginCommand& command, std::string_view trouble) {
  if (command.command_seq() == 0) return;
  v1::PluginCommandDone answer;
  answer.set_command_seq(command.command_seq());
  answer.set_trouble(std::string(trouble));
  std::lock_guard lock(mutex_);
  if (done_.size() < Switches::kMaxWaiting) done_.push_back(std::move(answer));
  changed_.notify_all();
}

bool Feed::wait(std::chrono::microseconds duration) {
  std::unique_lock lock(mutex_);
  auto until = std::chrono::steady_clock::now() + duration;
  while (!stopping_.load() && std::chrono::steady_clock::now() < until) {
    int64_t now_us = clock_us(CLOCK_MONOTONIC);
    if (switches_.due(now_us)) break;
    auto wake = until;
    if (auto off_us = switches_.next_off_us()) {
      wake = std::min(
          wake, std::chrono::steady_clock::now() + std::chrono::microseconds(*off_us - now_us));
    }
    changed_.wait_until(lock, wake);
  }
  return stopping_.load();
}

void Feed::request_stop() {
  std::lock_guard lock(mutex_);
  stopping_.store(true);
  changed_.notify_all();
}

}  // namespace fairlead::sdk
