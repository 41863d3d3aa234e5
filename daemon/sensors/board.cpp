#include "daemon/sensors/board.h"

#include "daemon/base/time_text.h"
#include "daemon/record/observation_ranges.h"

namespace fairlead::sensors {

namespace {
constexpr int64_t kRateOverUs = 5'000'000;
constexpr std::string_view kCalibrated = "calibrated: ";
}  // namespace

Board::Channel* Board::channel(const std::string& source, const std::string& name) {
  auto found = channels_.find({source, name});
  if (found != channels_.end()) return &found->second;
  if (channels_.size() >= kMostChannels) return nullptr;
  Channel& made = channels_[{source, name}];
  made.view.set_source(source);
  made.view.set_channel(name);
  if (auto range = record::range_of_signal(name)) {
    made.view.set_unit(std::string(range->whole ? "1" : range->unit));
  }
  return &made;
}

void Board::note(Channel& channel, const v1::Observation& observation, double value,
                 int64_t mono_us) {
  auto quality = observation.quality();
  channel.view.set_quality(quality == v1::Quality::UNSET ? v1::Quality::GOOD : quality);
  channel.view.clear_gap();
  channel.came_us = mono_us;
  Sample& sample = channel.recent.emplace_back();
  sample.mono_us = mono_us;
  sample.sample.set_value(value);
  sample.sample.set_quality(channel.view.quality());
  if (auto time = parse_time_us(observation.time())) sample.sample.set_wall_us(*time);
  while (channel.recent.size() > kMostSamples ||
         mono_us - channel.recent.front().mono_us > kRateOverUs) {
    channel.recent.pop_front();
  }
}

void Board::see(const v1::Observation& observation, int64_t mono_us) {
  std::lock_guard lock(mutex_);
  switch (observation.kind_case()) {
    case v1::Observation::kSample:
      if (Channel* c = channel(observation.source(), observation.sample().signal())) {
        c->view.set_value(observation.sample().value());
        note(*c, observation, observation.sample().value(), mono_us);
      }
      break;
    case v1::Observation::kFix:
      if (Channel* c = channel(observation.source(), "fix")) {
        *c->view.mutable_fix() = observation.fix();
        note(*c, observation, observation.fix().speed_mps(), mono_us);
      }
      break;
    case v1::Observation::kGap:
      if (Channel* c = channel(observation.source(), observation.gap().channel())) {
        c->view.set_gap(observation.gap().cause());
      }
      break;
    case v1::Observation::kSensor:
      if (Channel* c = channel(observation.source(), observation.sensor().channel())) {
        const std::string& state = observation.sensor().state();
        c->view.set_state(state);
        size_t at = state.find(kCalibrated);
        if (at != std::string::npos) c->view.set_calibration(state.substr(at + kCalibrated.size()));
      }
      break;
    default:
      break;
  }
}

v1::GetSensorsResponse Board::view(const v1::GetSensorsRequest& request, int64_t mono_us) const {
  v1::GetSensorsResponse response;
  std::lock_guard lock(mutex_);
  for (const auto& [name, c] : channels_) {
    v1::SensorView& view = *response.add_sensor();
    view = c.view;
    view.set_age_ms(c.came_us < 0 ? -1 : (mono_us - c.came_us) / 1000);
    size_t late = 0;
    while (late < c.recent.size() && mono_us - c.recent[late].mono_us > kRateOverUs) ++late;
    size_t count = c.recent.size() - late;
    if (count >= 2) {
      // Up to now, so that a channel that stops slows down at once.
      double over_s = static_cast<double>(mono_us - c.recent[late].mono_us) / 1e6;
      view.set_rate_hz(static_cast<double>(count - 1) / over_s);
    }
    bool asked = request.source() == name.first && request.channel() == name.second;
    for (const Sample& s : c.recent) {
      if (asked) *view.add_sample() = s.sample;
    }
  }
  return response;
}

}  // namespace fairlead::sensors
