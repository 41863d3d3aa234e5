#include "plugins/sdk/switches.h"

#include <utility>

namespace fairlead::sdk {

bool Switches::command(const v1::PluginCommand& command) {
  if (waiting_.size() >= kMaxWaiting) return false;
  waiting_.push_back(command);
  return true;
}

void Switches::lost_daemon() {
  waiting_.clear();
  for (auto& [output, off_at_us] : off_at_us_) off_at_us = 0;
}

std::optional<v1::PluginCommand> Switches::take(int64_t now_us) {
  if (!waiting_.empty()) {
    v1::PluginCommand command = std::move(waiting_.front());
    waiting_.pop_front();
    if (!command.on()) {
      off_at_us_.erase(command.output());
    } else {
      int64_t after_us = int64_t{command.for_ms()} * 1000;
      off_at_us_[command.output()] = after_us == 0 ? INT64_MAX : now_us + after_us;
    }
    return command;
  }
  for (auto it = off_at_us_.begin(); it != off_at_us_.end(); ++it) {
    if (it->second > now_us) continue;
    v1::PluginCommand off;
    off.set_output(it->first);
    off_at_us_.erase(it);
    return off;
  }
  return std::nullopt;
}

bool Switches::due(int64_t now_us) const {
  if (!waiting_.empty()) return true;
  std::optional<int64_t> off_us = next_off_us();
  return off_us && *off_us <= now_us;
}

std::optional<int64_t> Switches::next_off_us() const {
  std::optional<int64_t> first;
  for (const auto& [output, off_at_us] : off_at_us_) {
    if (off_at_us != INT64_MAX && (!first || off_at_us < *first)) first = off_at_us;
  }
  return first;
}

}  // namespace fairlead::sdk
