#include "plugins/line/switchboard.h"

#include <algorithm>

namespace fairlead::line {

void Switchboard::turn(ModbusLink& link, sdk::Feed& feed) {
  while (auto command = feed.take_command()) feed.done(*command, carry_out(link, *command));
  if (link.is_open() && !off_.empty()) try_off_again(link);
}

std::string Switchboard::carry_out(ModbusLink& link, const v1::PluginCommand& command) {
  auto output = std::find_if(outputs_.begin(), outputs_.end(),
                             [&](const Output& o) { return o.name == command.output(); });
  if (output == outputs_.end()) return "no such output";
  if (command.on()) {
    off_.erase(output->name);
  } else if (on_.contains(output->name)) {
    off_.insert(output->name);
  }
  if (!link.is_open()) return "the device does not answer";
  if (auto ok = link.switch_coil(*output, command.on()); !ok) return ok.error().message;
  off_.erase(output->name);
  if (command.on()) {
    on_.insert(output->name);
  } else {
    on_.erase(output->name);
  }
  return "";
}

// An off that could not be done must not be forgotten: a buzzer would go on for ever.
void Switchboard::try_off_again(ModbusLink& link) {
  for (const Output& output : outputs_) {
    if (!link.is_open()) return;
    if (!off_.contains(output.name) || !link.switch_coil(output, false)) continue;
    off_.erase(output.name);
    on_.erase(output.name);
  }
}

void Switchboard::all_off(ModbusLink& link) {
  off_.insert(on_.begin(), on_.end());
  if (link.is_open()) try_off_again(link);
}

}  // namespace fairlead::line
