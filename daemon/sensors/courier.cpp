#include "daemon/sensors/courier.h"

#include <time.h>

#include <algorithm>
#include <chrono>
#include <utility>
#include <variant>

#include "daemon/sensors/translate.h"

namespace fairlead::sensors {

namespace {
constexpr std::chrono::milliseconds kRetryAfter{10};
constexpr int64_t kDoubtEveryUs = 1'000'000;

int64_t clock_us(clockid_t id) {
  timespec t{};
  clock_gettime(id, &t);
  return int64_t{t.tv_sec} * 1'000'000 + t.tv_nsec / 1000;
}
}  // namespace

int64_t wall_now_us() { return clock_us(CLOCK_REALTIME); }
int64_t mono_now_us() { return clock_us(CLOCK_MONOTONIC); }

std::vector<v1::Observation> Lane::observations(const Inbox::Item& item) {
  return std::visit([this](const auto& kind) { return of(kind); }, item);
}

std::vector<v1::Observation> Lane::of(const Inbox::Batch& item) {
  std::vector<v1::Observation> out;
  out.reserve(static_cast<size_t>(item.batch.readings_size()));
  int64_t now_us = mono_now_us();
  if (checks_clocks_) clocks_.note(wall_now_us(), now_us);
  for (const v1::PluginReading& reading : item.batch.readings()) {
    // The session checked the numbers against the channels of its last description.
    if (reading.channel() >= channels_.size()) continue;
    std::optional<v1::Observation> o = judge(reading, now_us);
    if (!o) {
      give_up(reading.channel(), now_us, out);
      continue;
    }
    if (o->has_gap()) down_[reading.channel()] = o->gap().cause();
    if (o->has_sample() || o->has_fix()) down_.erase(reading.channel());
    out.push_back(std::move(*o));
  }
  return out;
}

// The reading as an observation; none when it is not believed, and then the doubt has the gap.
std::optional<v1::Observation> Lane::judge(const v1::PluginReading& reading, int64_t now_us) {
  const v1::PluginChannel& channel = channels_[reading.channel()];
  bool timely = !checks_clocks_ || clocks_.believes(reading.wall_us(), reading.mono_us(), now_us);
  v1::Observation o;
  if (timely) {
    o = to_observation(reading, channel, clock_);
    if (reading.has_gap() || !o.has_gap()) return o;
  } else {
    o = gap_observation(channel.source(), channel.signal(),
                        "reading not believed: its clocks are not this machine's", wall_now_us(),
                        clock_);
  }
  Doubt& doubt = doubts_[reading.channel()];
  ++doubt.unsaid;
  doubt.last = std::move(o);
  return std::nullopt;
}

// Says what is not believed of a channel, unless it was said less than a second ago.
void Lane::give_up(uint32_t channel, int64_t now_us, std::vector<v1::Observation>& out) {
  Doubt& doubt = doubts_[channel];
  bool early = doubt.said_us != 0 && now_us - doubt.said_us < kDoubtEveryUs;
  if (doubt.unsaid == 0 || early) return;
  doubt.last.mutable_gap()->set_lost(doubt.unsaid);
  out.push_back(doubt.last);
  doubt.unsaid = 0;
  doubt.said_us = now_us;
  down_[channel] = doubt.last.gap().cause();
}

Session::Down Lane::down() const {
  if (down_.empty()) return {};
  return {static_cast<int>(down_.size()), down_.begin()->second};
}

std::vector<v1::Observation> Lane::of(const Inbox::Beat& item) {
  std::vector<v1::Observation> out;
  for (auto& [channel, doubt] : doubts_) give_up(channel, mono_now_us(), out);
  for (uint32_t i = 0; i < channels_.size(); ++i) {
    const std::string& source = channels_[i].source();
    if (down_.contains(i)) continue;
    auto [last, first_time] = alive_at_us_.try_emplace(source, 0);
    int64_t since = item.wall_us - last->second;
    bool due = first_time || since >= alive_every_us_ || since < 0;
    if (!due || item.wall_us < 0) continue;
    last->second = item.wall_us;
    out.push_back(alive_observation(source, item.wall_us, clock_));
  }
  return out;
}

std::vector<v1::Observation> Lane::of(const Inbox::Described& item) {
  // The same channels again (a reconnect, a restart): what is in a gap stays so until it is read.
  auto same = [](const v1::PluginChannel& a, const v1::PluginChannel& b) {
    return a.source() == b.source() && a.signal() == b.signal();
  };
  bool known = std::equal(channels_.begin(), channels_.end(), item.channels.begin(),
                          item.channels.end(), same);
  if (!known) {
    down_.clear();
    doubts_.clear();
  }
  channels_ = item.channels;
  if (!std::exchange(nameless_gap_, false)) return {};
  return {sensor_observation(id_, id_, "live", wall_now_us(), clock_)};
}

std::vector<v1::Observation> Lane::of(const Inbox::Mark& item) {
  std::vector<v1::Observation> out;
  // Before the first description only the plugin's own name is known.
  if (channels_.empty()) {
    out.push_back(
        sensor_observation(id_, id_, item.gap ? "missing" : "live", item.wall_us, clock_));
    nameless_gap_ = item.gap;
    if (item.gap) out.push_back(gap_observation(id_, id_, item.words, item.wall_us, clock_));
    return out;
  }
  for (uint32_t i = 0; i < channels_.size(); ++i) {
    const v1::PluginChannel& c = channels_[i];
    std::string state = item.gap ? "missing" : "live";
    if (!item.gap && !c.convention().empty()) state += "; " + c.convention();
    if (!item.gap && !c.calibration().empty()) state += "; calibrated: " + c.calibration();
    out.push_back(sensor_observation(c.source(), c.signal(), state, item.wall_us, clock_));
    if (item.gap) {
      out.push_back(gap_observation(c.source(), c.signal(), item.words, item.wall_us, clock_));
      down_[i] = item.words;
    }
  }
  return out;
}

std::vector<v1::Observation> Lane::of(const Inbox::Switched& item) {
  std::string state = item.on ? "on" : "off";
  if (!item.trouble.empty()) state = "not switched " + state + ": " + item.trouble;
  // A command that is repeated to keep it on says nothing new.
  std::string& last = switched_[item.output];
  if (std::exchange(last, state) == state) return {};
  return {sensor_observation(id_, item.output, state, wall_now_us(), clock_)};
}

void Courier::add(std::shared_ptr<Session> session, Lane lane) {
  stops_.push_back({std::move(session), std::move(lane)});
}

void Courier::start() {
  thread_ = std::thread([this] { run(); });
}

void Courier::wake() {
  std::lock_guard lock(mutex_);
  woken_ = true;
  changed_.notify_all();
}

void Courier::stop(int64_t within_us) {
  if (!thread_.joinable()) return;
  give_up_us_.store(mono_now_us() + within_us);
  {
    std::lock_guard lock(mutex_);
    ending_ = true;
    changed_.notify_all();
  }
  thread_.join();
}

void Courier::run() {
  while (true) {
    bool worked = false;
    for (Stop& stop : stops_) worked = deliver_one(stop) || worked;
    if (mono_now_us() > give_up_us_.load()) return;
    if (worked) continue;
    std::unique_lock lock(mutex_);
    if (ending_ && !woken_) return;  // Nothing left.
    changed_.wait(lock, [this] { return woken_ || ending_; });
    woken_ = false;
  }
}

bool Courier::deliver_one(Stop& stop) {
  std::optional<Inbox::Item> item = stop.session->inbox().pop();
  if (!item) return false;
  for (const v1::Observation& observation : stop.lane.observations(*item)) {
    if (!offer(observation)) return true;  // Given up: not acked.
  }
  stop.session->set_down(stop.lane.down());
  if (const auto* batch = std::get_if<Inbox::Batch>(&*item)) {
    stop.session->taken(batch->session, batch->batch.batch_seq());
  }
  return true;
}

bool Courier::offer(const v1::Observation& observation) {
  while (!sink_(observation)) {
    if (mono_now_us() > give_up_us_.load()) return false;
    std::this_thread::sleep_for(kRetryAfter);
  }
  return true;
}

}  // namespace fairlead::sensors
