// A Modbus device whose registers follow a profile: a real server, over TCP or a serial line.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "clients/sim/profile.h"
#include "daemon/base/result.h"

namespace fairlead::sim {

struct ModbusOptions {
  int port = 0;        // TCP, on 127.0.0.1.
  std::string serial;  // RTU instead: this serial device, 19200 8E1.
  int unit_id = 1;
};

/// Where each signal stands: float32, most significant word first, two registers each, the same in
/// input and holding registers.
struct Place {
  std::string_view signal;
  int address;
};
[[nodiscard]] const std::vector<Place>& register_places();

/// Serves until a signal; the profile starts with the first request. Errors: kBadInput when the
/// profile names a signal without a place; kIo.
Status serve_modbus(const Profile& profile, const ModbusOptions& options);

}  // namespace fairlead::sim
