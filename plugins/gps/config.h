// What the gps plugin is told: one table a receiver.
//
// Threads: values only.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "plugins/sdk/config.h"

namespace fairlead::gps {

struct Receiver {
  std::string source{};  // gps.truck, gps.tag, ...
  std::string host = "127.0.0.1";
  int port = 2947;
  std::string device{};  // Only this device of that gpsd; empty: all.
  int64_t silent_after_us = 3'000'000;
  int64_t settle_us = 200'000;
};

struct Settings {
  std::vector<Receiver> receivers;
};

/// Reads and checks; returns every problem.
[[nodiscard]] sdk::Problems read_settings(const std::string& toml, Settings& settings);

/// One channel "fix" a receiver, in order.
[[nodiscard]] std::vector<v1::PluginChannel> channels_of(const Settings& settings);

}  // namespace fairlead::gps
