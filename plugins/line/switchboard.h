// Carries out what the truck wants switched: the feed's commands to coils, each with an answer.
// What was switched on is switched off before the plugin ends; a device that has its own watchdog
// (drops its relays when nobody writes) guards the rest.
//
// Threads: one. Ownership: refers to the settings' outputs.
#pragma once

#include <set>
#include <string>
#include <vector>

#include "plugins/line/modbus_link.h"
#include "plugins/sdk/feed.h"

namespace fairlead::line {

class Switchboard {
 public:
  explicit Switchboard(const std::vector<Output>& outputs) : outputs_(outputs) {}

  /// Everything that waits. A link that is shut answers with why.
  void turn(ModbusLink& link, sdk::Feed& feed);
  /// The plugin ends.
  void all_off(ModbusLink& link);

 private:
  [[nodiscard]] std::string carry_out(ModbusLink& link, const v1::PluginCommand& command);
  void try_off_again(ModbusLink& link);

  const std::vector<Output>& outputs_;
  std::set<std::string> on_;   // As far as this side knows.
  std::set<std::string> off_;  // To be switched off as soon as the device answers.
};

}  // namespace fairlead::line
