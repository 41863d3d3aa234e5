// SPDX-License-Identifier: GPL-3.0-or-later
// Settings of the clamp plugin (README.md explains each key).
//
// Threads: pure functions. Units: in the names.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "plugins/sdk/config.h"

namespace fairlead::clamp {

struct Settings {
  std::string source;
  std::string driver;
  std::string connection;
  std::string serial;
  std::string volts_channel;  // Empty: any channel of the meter.
  std::string amps_channel;
  bool volts = true;
  bool amps = true;
  double samplerate_hz = 0;  // 0: the meter's own.
  int64_t silent_after_us = 0;
  int64_t least_interval_us = 0;
};

[[nodiscard]] sdk::Problems read_settings(const std::string& toml, Settings& settings);
/// Volts first, then amps, as far as they are wanted.
[[nodiscard]] std::vector<v1::PluginChannel> channels_of(const Settings& settings);

}  // namespace fairlead::clamp
