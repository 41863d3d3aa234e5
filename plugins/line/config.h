// What the line plugin is told: the link to the Modbus device and the register map.
//
// Threads: values only.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "plugins/line/protocol.h"
#include "plugins/sdk/config.h"

namespace fairlead::line {

struct LinkSettings {
  bool tcp = true;
  std::string host;  // IPv4 address.
  int port = 502;
  std::string serial;  // RTU: the serial device.
  int baud = 19200;
  char parity = 'E';
  int stop_bits = 1;
  bool rs485 = false;  // Ask the driver for RS-485 direction control.
  int64_t deadline_us = 300'000;
};

struct Settings {
  LinkSettings link;
  int64_t period_us = 100'000;
  std::vector<Register> registers;
  std::vector<Output> outputs;
};

/// Reads and checks; returns every problem.
[[nodiscard]] sdk::Problems read_settings(const std::string& toml, Settings& settings);

/// One channel a register, in order.
[[nodiscard]] std::vector<v1::PluginChannel> channels_of(const Settings& settings);
[[nodiscard]] std::vector<v1::PluginOutput> outputs_of(const Settings& settings);

}  // namespace fairlead::line
