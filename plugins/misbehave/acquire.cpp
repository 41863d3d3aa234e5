// The acquisition loop of the misbehaving plugin.
#include <errno.h>
#include <fcntl.h>
#include <fmt/format.h>
#include <signal.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cstdlib>
#include <cstring>
#include <thread>

#include "plugins/misbehave/actor.h"
#include "plugins/sdk/feed.h"

namespace fairlead::misbehave {

namespace {
constexpr uint64_t kHighest = 100'000;
constexpr int64_t kSilentAfterUs = 1'000'000;
constexpr int64_t kRedialUs = 200'000;
constexpr size_t kLongestLine = 100;
constexpr int kFloodFactor = 50;
}  // namespace

void Actor::turn() {
  sdk::Stamp now = sdk::now();
  // Waits for a time of the wall clock: when that is put back, for hours.
  if (settings_.fault == Fault::kWallWait) {
    if (now.wall_us < wall_due_us_) return;
    wall_due_us_ = now.wall_us + 10'000;
  }
  if (bad(Fault::kHang) && settings_.device.empty()) {
    while (true) std::this_thread::sleep_for(std::chrono::seconds(1));
  }
  bool over = settings_.lifetime_us > 0 && now.mono_us - started_us_ >= settings_.lifetime_us;
  if (over) raise(SIGKILL);
  if (now.mono_us - started_us_ >= settings_.after_us) harm_.turn(now.mono_us);
  if (settings_.device.empty()) {
    generate(now.mono_us);
  } else {
    read_device();
  }
  harm_.while_unread(outbox_.size());
  ++turns_;
}

void Actor::generate(int64_t now_us) {
  auto period_us = static_cast<int64_t>(1e6 / settings_.rate_hz);
  while (due_us_ <= now_us) {
    // What it slept through was not read, and honest plugins do not say it was.
    bool late = now_us - due_us_ > 5 * period_us;
    if (late && !bad(Fault::kInvents)) due_us_ = now_us;
    int times = bad(Fault::kFlood) ? kFloodFactor : 1;
    for (int i = 0; i < times; ++i) {
      reading(static_cast<double>(count_++ % kHighest), late ? due_us_ : now_us);
    }
    due_us_ += period_us;
  }
}

void Actor::open_device() {
  int64_t now_us = sdk::now().mono_us;
  if (now_us < redial_us_) return;
  redial_us_ = now_us + kRedialUs;
  device_ = open(settings_.device.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  if (device_ < 0) {
    mark_gap(fmt::format("{}: {}", settings_.device, strerror(errno)));
    return;
  }
  termios raw{};
  if (tcgetattr(device_, &raw) == 0) {
    cfmakeraw(&raw);
    tcsetattr(device_, TCSANOW, &raw);
  }
}

void Actor::read_device() {
  if (device_ < 0) open_device();
  if (device_ < 0) return;
  char buffer[512];
  ssize_t got = read(device_, buffer, sizeof buffer);
  // Stands in for a driver that reads without a time limit.
  while (got < 0 && errno == EAGAIN && bad(Fault::kHang)) {
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
    got = read(device_, buffer, sizeof buffer);
  }
  int64_t now_us = sdk::now().mono_us;
  if (got > 0) {
    heard_us_ = now_us;
    for (ssize_t i = 0; i < got; ++i) {
      if (buffer[i] == '\r') continue;
      if (buffer[i] == '\n') {
        take_line(std::exchange(line_, {}));
      } else if (line_.size() < kLongestLine) {
        line_ += buffer[i];
      }
    }
  } else if (got == 0 || errno != EAGAIN) {
    close(std::exchange(device_, -1));
    mark_gap("the instrument is gone");
  } else if (now_us - heard_us_ > kSilentAfterUs) {
    mark_gap("the instrument is silent");
  }
}

void Actor::take_line(const std::string& line) {
  int value = 0;
  auto [end, error] = std::from_chars(line.data(), line.data() + line.size(), value);
  bool number = error == std::errc() && end == line.data() + line.size() && !line.empty();
  if (!number && bad(Fault::kFragile)) std::abort();
  if (!number || value < 0 || value >= static_cast<int>(kHighest)) return;
  if (bad(Fault::kMisread)) value = (value + 1) % static_cast<int>(kHighest);
  int times = bad(Fault::kFlood) ? kFloodFactor : 1;
  for (int i = 0; i < times; ++i) reading(value, sdk::now().mono_us);
}

void Actor::reading(double value, int64_t mono_us) {
  sdk::Stamp now = sdk::now();
  v1::PluginReading r;
  r.set_wall_us(now.wall_us - (now.mono_us - mono_us));
  r.set_mono_us(mono_us);
  r.set_quality(v1::Quality::GOOD);
  r.set_value(value);
  gap_ = false;
  outbox_.add(std::move(r));
}

void Actor::mark_gap(const std::string& cause) {
  if (std::exchange(gap_, true)) return;
  sdk::Stamp now = sdk::now();
  v1::PluginReading r;
  r.set_wall_us(now.wall_us);
  r.set_mono_us(now.mono_us);
  r.mutable_gap()->set_cause(cause);
  outbox_.add(std::move(r));
}

}  // namespace fairlead::misbehave
