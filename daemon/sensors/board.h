// What each channel said last, for a person who looks: newest value, age, rate, gap, state. Fed
// with what goes to the recorder; keeps the samples of a few seconds and nothing else.
//
// Threads: any. Limits: kMostChannels channels, kMostSamples each.
#pragma once

#include <cstdint>
#include <deque>
#include <map>
#include <mutex>
#include <string>
#include <utility>

#include "fairlead/v1/observation.pb.h"
#include "fairlead/v1/sensors_service.pb.h"

namespace fairlead::sensors {

class Board {
 public:
  static constexpr size_t kMostChannels = 256;
  static constexpr size_t kMostSamples = 512;

  /// One observation of a plugin; others are passed over. `mono_us`: when it came.
  void see(const v1::Observation& observation, int64_t mono_us);
  [[nodiscard]] v1::GetSensorsResponse view(const v1::GetSensorsRequest& request,
                                            int64_t mono_us) const;

 private:
  struct Sample {
    int64_t mono_us = 0;
    v1::SensorSample sample;
  };
  struct Channel {
    v1::SensorView view;
    int64_t came_us = -1;
    std::deque<Sample> recent;
  };
  Channel* channel(const std::string& source, const std::string& name);
  static void note(Channel& channel, const v1::Observation& observation, double value,
                   int64_t mono_us);

  mutable std::mutex mutex_;
  std::map<std::pair<std::string, std::string>, Channel> channels_;
};

}  // namespace fairlead::sensors
