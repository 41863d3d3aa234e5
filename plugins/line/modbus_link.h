// One Modbus connection through libmodbus, with a deadline for every request. libmodbus' own float
// helpers are not used: their setters write wrong byte orders.
//
// Threads: one. Ownership: closes on destruction.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "daemon/base/result.h"
#include "plugins/line/config.h"

typedef struct _modbus modbus_t;

namespace fairlead::line {

class ModbusLink {
 public:
  /// `before_each`: called before every request, so that the loop's heartbeat goes on however many
  /// of them wait for their deadline.
  ModbusLink(LinkSettings settings, std::function<void()> before_each)
      : settings_(std::move(settings)), before_each_(std::move(before_each)) {}
  ~ModbusLink() { close(); }
  ModbusLink(const ModbusLink&) = delete;
  ModbusLink& operator=(const ModbusLink&) = delete;

  [[nodiscard]] bool is_open() const { return context_ != nullptr; }
  /// Takes at most the deadline. Errors: kUnavailable in words for the record.
  Status open();
  void close();
  /// Reads a block; words_[0..count). Errors: kUnavailable; the link is closed where only a new
  /// connection helps, and stays open where the device answered "no".
  Result<std::vector<uint16_t>> read(const Block& block);
  /// Switches a coil and has the device's word for it. Errors: as read().
  Status switch_coil(const Output& output, bool on);

 private:
  int ask(const Block& block, std::vector<uint16_t>& words);
  Error trouble(int error, bool short_answer, const std::string& where);

  LinkSettings settings_;
  std::function<void()> before_each_;
  modbus_t* context_ = nullptr;
};

}  // namespace fairlead::line
